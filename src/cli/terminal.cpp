// SPDX-License-Identifier: Apache-2.0
#include "cli/terminal.hpp"

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>

#include <fmt/format.h>
#include <unistd.h>

namespace cli {
namespace {

long long now_ns() { return std::chrono::steady_clock::now().time_since_epoch().count(); }

std::string coloured(std::string_view text, std::string_view code) {
  return colours() ? fmt::format("\x1b[{}m{}\x1b[0m", code, text) : std::string(text);
}

}  // namespace

std::size_t width(std::string_view text) {
  std::size_t n = 0;
  for (const char c : text) n += (static_cast<unsigned char>(c) & 0xC0) != 0x80;
  return n;
}

std::string left(std::string_view text, std::size_t columns) {
  return std::string(text) + std::string(columns > width(text) ? columns - width(text) : 0, ' ');
}

std::string right(std::string_view text, std::size_t columns) {
  return std::string(columns > width(text) ? columns - width(text) : 0, ' ') + std::string(text);
}

std::string wrap(std::string_view text, std::size_t columns, std::size_t indent) {
  std::string result;
  std::size_t used = indent;
  bool line_start = true;
  while (!text.empty()) {
    const std::size_t blank = std::min(text.find(' '), text.size());
    const std::string_view word = text.substr(0, blank);
    if (!line_start && used + 1 + width(word) > columns) {
      result += '\n' + std::string(indent, ' ');
      used = indent;
      line_start = true;
    }
    if (!line_start) result += ' ', ++used;
    result += word;
    used += width(word);
    line_start = false;
    text.remove_prefix(std::min(blank + 1, text.size()));
  }
  return result;
}

bool colours() {
  static const bool on = ::isatty(STDOUT_FILENO) != 0 && std::getenv("NO_COLOR") == nullptr;
  return on;
}

std::string bold(std::string_view text) { return coloured(text, "1"); }
std::string quiet(std::string_view text) { return coloured(text, "2"); }

std::string table(const std::vector<TableColumn>& columns,
                  const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> widths;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    std::size_t w = width(columns[c].head);
    for (const auto& row : rows) w = std::max(w, c < row.size() ? width(row[c]) : 0);
    widths.push_back(w);
  }
  std::size_t before_last = 0;
  for (std::size_t c = 0; c + 1 < columns.size(); ++c) before_last += widths[c] + 2;
  const auto line = [&](const std::vector<std::string>& fields) {
    std::string text;
    for (std::size_t c = 0; c < columns.size(); ++c) {
      const std::string field = c < fields.size() ? fields[c] : "";
      if (c > 0) text += "  ";
      if (columns[c].numeric)
        text += right(field, widths[c]);
      else if (c + 1 == columns.size())  // the last column of words goes on below itself
        text += wrap(field, std::max<std::size_t>(80, before_last + 20), before_last);
      else
        text += left(field, widths[c]);
    }
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text + '\n';
  };
  std::vector<std::string> heads;
  std::size_t total = 0;
  for (std::size_t c = 0; c < columns.size(); ++c)
    heads.push_back(columns[c].head), total += widths[c] + (c > 0 ? 2 : 0);
  std::string text = line(heads);
  for (std::size_t i = 0; i < std::min<std::size_t>(total, 80); ++i) text += "─";
  text += '\n';
  for (const auto& row : rows) text += line(row);
  return text;
}

std::string findings_text(const std::vector<findings::Finding>& findings) {
  std::string text;
  for (const findings::Finding& f : findings) {
    const std::string_view code = f.severity == findings::Severity::stop      ? "31"
                                  : f.severity == findings::Severity::caution ? "33"
                                                                              : "2";
    text += fmt::format(
        "{} {}\n",
        coloured(fmt::format("{} {}", findings::mark(f.severity), findings::name(f.severity)),
                 code),
        quiet(findings::word(f.id)));
    std::string body = f.what;
    if (!f.where.empty()) body += " At: " + f.where + (f.where.back() == '.' ? "" : ".");
    if (!f.measured.empty())
      body += " Measured: " + f.measured + (f.limit.empty() ? "." : "; limit: " + f.limit + ".");
    text += "  " + wrap(body, 80, 2) + "\n";
    if (!f.remedy.empty()) text += "  " + wrap("→ " + f.remedy, 80, 4) + "\n";
  }
  return text;
}

Progress::Progress(std::string what) : what_(std::move(what)), started_ns_(now_ns()) {}

void Progress::at(double share) {
  const long long now = now_ns();
  if (now - started_ns_ < 1'000'000'000 || now - shown_ns_ < 200'000'000 ||
      ::isatty(STDERR_FILENO) == 0)
    return;
  fmt::print(stderr, "\r{} … {:.0f} %", what_, share * 100.0);
  shown_ns_ = now;
  shown_ = true;
}

Progress::~Progress() {
  if (shown_) fmt::print(stderr, "\r\x1b[K");
}

void print_json(const base::Json& json) {
  fmt::print("{}\n", json.dump(2, ' ', false, base::Json::error_handler_t::replace));
}

std::int64_t now_s() {
  if (const char* fixed = std::getenv("SOURCE_DATE_EPOCH")) return std::strtoll(fixed, nullptr, 10);
  return std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
}

std::string today() {
  const auto now = static_cast<std::time_t>(now_s());
  std::tm day{};
  gmtime_r(&now, &day);
  return fmt::format("{:04}-{:02}-{:02}", day.tm_year + 1900, day.tm_mon + 1, day.tm_mday);
}

}  // namespace cli
