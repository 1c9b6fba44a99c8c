// SPDX-License-Identifier: Apache-2.0
#include "feed/row_text.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <limits>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"

namespace feed {
namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr double powers[] = {1e0, 1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9};

bool digit(char c) { return c >= '0' && c <= '9'; }
int two(const char* p) { return (p[0] - '0') * 10 + (p[1] - '0'); }

bool is_number(std::string_view field, char mark) { return std::isfinite(number_in(field, mark)); }

}  // namespace

void split(std::string_view line, char separator, std::vector<std::string_view>& fields) {
  fields.clear();
  const char* p = line.data();
  const char* const end = p + line.size();
  for (;;) {
    const char* from = p;
    if (p < end && *p == '"') {
      const char* close =
          static_cast<const char*>(std::memchr(p + 1, '"', std::size_t(end - p - 1)));
      if (close == nullptr) close = end;
      fields.emplace_back(p + 1, std::size_t(close - p - 1));
      p = close;
      while (p < end && *p != separator) ++p;
    } else {
      while (p < end && *p != separator) ++p;
      fields.emplace_back(from, std::size_t(p - from));
    }
    if (p >= end) return;
    ++p;
  }
}

double number_in(std::string_view field, char mark) {
  const char* p = field.data();
  const char* const end = p + field.size();
  while (p < end && *p == ' ') ++p;
  const bool minus = p < end && *p == '-';
  if (minus || (p < end && *p == '+')) ++p;
  long long value = 0;
  int digits = 0, after = -1;
  for (; p < end && digits < 18; ++p) {
    if (digit(*p)) {
      value = value * 10 + (*p - '0');
      ++digits;
      if (after >= 0) ++after;
    } else if (*p == mark && after < 0) {
      after = 0;
    } else {
      break;
    }
  }
  while (p < end && (*p == ' ' || *p == '\r')) ++p;
  if (p == end && digits > 0 && digits < 16 && after < 10) {
    const double v = double(value) * powers[after < 0 ? 0 : after];
    return minus ? -v : v;
  }
  if (field.empty()) return none;
  const auto careful = base::parse_number(base::trimmed(field), mark);
  return careful ? *careful : none;
}

RowLayout look_at(std::string_view head) {
  RowLayout layout;
  std::size_t from = 0, line = 0;
  std::vector<std::string_view> fields;
  while (from < head.size() && line < 60) {
    std::size_t end = head.find('\n', from);
    if (end == std::string_view::npos) end = head.size();
    std::string_view text = head.substr(from, end - from);
    if (!text.empty() && text.back() == '\r') text.remove_suffix(1);
    ++line;
    from = std::min(head.size(), end + 1);
    // The separator that cuts this line into most fields, with words in at least half of them.
    for (const char separator : {',', ';', '\t', '|'}) {
      split(text, separator, fields);
      if (fields.size() < 2 || fields.size() <= layout.headers.size()) continue;
      std::size_t words = 0;
      for (const std::string_view f : fields) {
        const bool letters = std::any_of(f.begin(), f.end(), [](char c) {
          return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                 (static_cast<unsigned char>(c) & 0x80U) != 0;
        });
        words += letters && !is_number(f, '.') && !is_number(f, ',');
      }
      if (words < 2 || words * 2 < fields.size()) continue;
      // The next line must have as many fields, or the header is a title.
      const std::size_t next_end = std::min(head.find('\n', from), head.size());
      std::vector<std::string_view> next;
      split(head.substr(from, next_end - from), separator, next);
      if (next.size() + 2 < fields.size() || next.size() < 2) continue;
      layout.separator = separator;
      layout.headers.clear();
      for (const std::string_view f : fields) layout.headers.emplace_back(base::trimmed(f));
      layout.header_line = line;
      layout.header_bytes = from;
    }
    if (!layout.headers.empty()) break;
  }
  if (layout.headers.empty())
    throw base::InputError({"", 1, 0}, "no header of column names in the first lines",
                           "delimited text with a line of column names, then rows of readings",
                           "export the record as a table with its column names (CSV)");
  while (layout.headers.size() > 2 && layout.headers.back().empty()) layout.headers.pop_back();
  // A decimal comma can only stand where the comma does not part the fields.
  if (layout.separator != ',') {
    std::size_t commas = 0, points = 0;
    std::size_t at = layout.header_bytes;
    for (int row = 0; row < 50 && at < head.size(); ++row) {
      const std::size_t end = std::min(head.find('\n', at), head.size());
      split(head.substr(at, end - at), layout.separator, fields);
      for (const std::string_view f : fields) {
        commas += f.find(',') != std::string_view::npos && is_number(f, ',');
        points += f.find('.') != std::string_view::npos && is_number(f, '.');
      }
      at = end + 1;
    }
    if (commas > points) layout.decimal_mark = ',';
  }
  return layout;
}

double TimeReader::read(std::string_view field, char mark) {
  // "2025-03-03 08:15:00.250+02:00", the day looked up once.
  if (field.size() >= 16 && field[4] == '-' && field[7] == '-' && field[13] == ':' &&
      (field[10] == ' ' || field[10] == 'T') && digit(field[0]) && digit(field[11]) &&
      digit(field[12]) && digit(field[14]) && digit(field[15])) {
    if (day_text_ != field.substr(0, 10)) {
      const auto day = base::day_of(field.substr(0, 10));
      if (!day) return none;
      day_text_ = field.substr(0, 10);
      day_s_ = double(*day) * 86400.0;
    }
    double s = day_s_ + two(field.data() + 11) * 3600.0 + two(field.data() + 14) * 60.0;
    std::size_t at = 16;
    if (field.size() >= 19 && field[16] == ':' && digit(field[17]) && digit(field[18])) {
      s += two(field.data() + 17);
      at = 19;
      if (at < field.size() && (field[at] == '.' || field[at] == ',')) {
        double scale = 0.1;
        for (++at; at < field.size() && digit(field[at]); ++at, scale *= 0.1)
          s += scale * (field[at] - '0');
      }
    }
    const std::string_view zone = base::trimmed(field.substr(at));
    if (zone.empty()) {
      zoneless_ = true;
    } else if (zone != "Z" && zone != "z" && zone != "UTC") {
      if (zone.size() < 5 || (zone[0] != '+' && zone[0] != '-')) return none;
      const double off = two(zone.data() + 1) * 3600.0 + two(zone.data() + zone.size() - 2) * 60.0;
      s -= zone[0] == '-' ? -off : off;
    }
    dated_ = true;
    return s;
  }
  const double n = number_in(field, mark);
  if (std::isfinite(n)) {
    if (unit_s_ > 0.0 && n < 1e8) return n * unit_s_;
    if (n > 1e17) return dated_ = true, n * 1e-9;
    if (n > 1e11) return dated_ = true, n * 1e-3;
    if (n > 3e8) return dated_ = true, n;
    return n;
  }
  const auto both = logs::parse_date_and_clock(base::trimmed(field));
  if (!both) {
    const auto clock = logs::parse_clock(base::trimmed(field));
    return clock ? *clock : none;
  }
  const auto day =
      logs::seconds_of(both->date, both->date.year_first ? logs::DateOrder::ymd : order_);
  if (!day) return none;
  dated_ = zoneless_ = true;
  return *day + both->clock_s;
}

double TimeReader::read(std::string_view date, std::string_view clock) {
  const auto d = logs::parse_date(base::trimmed(date));
  auto c = logs::parse_clock(base::trimmed(clock));
  const std::string_view bare = base::trimmed(clock);
  if (!c && bare.size() == 5 && bare[2] == ':' && digit(bare[0]) && digit(bare[1]) &&
      digit(bare[3]) && digit(bare[4]))
    c = two(bare.data()) * 3600.0 + two(bare.data() + 3) * 60.0;
  if (!d || !c) return none;
  const auto day = logs::seconds_of(*d, d->year_first ? logs::DateOrder::ymd : order_);
  if (!day) return none;
  dated_ = zoneless_ = true;
  return *day + *c;
}

logs::DateOrder order_of(const std::vector<std::string>& dates) {
  bool first_over = false, second_over = false;
  for (const std::string& text : dates) {
    auto date = logs::parse_date(base::trimmed(text));
    if (!date)
      if (const auto both = logs::parse_date_and_clock(base::trimmed(text))) date = both->date;
    if (!date || date->year_first) continue;
    first_over |= date->a > 12;
    second_over |= date->b > 12;
  }
  if (first_over == second_over) return logs::DateOrder::unknown;
  return first_over ? logs::DateOrder::dmy : logs::DateOrder::mdy;
}

}  // namespace feed
