// SPDX-License-Identifier: Apache-2.0
#include "base/delimited_text.hpp"

namespace base {

void RowScanner::follow_quotes(std::string_view part, bool continues_rest) {
  char before = continues_rest && !rest_.empty() ? rest_.back() : dialect_.delimiter;
  for (const char c : part) {
    if (c == '"') {
      if (open_quote_)
        open_quote_ = false;
      else if (before == dialect_.delimiter ||
               before == '"')  // begins a field, or doubles the quote before
        open_quote_ = true;
    }
    before = c;
  }
}

void RowScanner::split(std::string_view line) {
  fields_.clear();
  if (dialect_.delimiter == aligned_by_blanks) {
    std::size_t at = line.find_first_not_of(' ');
    while (at != std::string_view::npos && at < line.size()) {
      const std::size_t gap = std::min(line.find("  ", at), line.size());
      fields_.push_back(line.substr(at, gap - at));
      at = line.find_first_not_of(' ', gap);
    }
    return;
  }
  const char* p = line.data();
  const char* const end = p + line.size();
  unescaped_.clear();
  unescaped_.reserve(line.size());  // so that views into it stay valid
  for (;;) {
    if (p != end && *p == '"') {
      const std::size_t start = unescaped_.size();
      ++p;
      while (p != end) {
        if (*p != '"') {
          unescaped_ += *p++;
        } else if (p + 1 != end && p[1] == '"') {
          unescaped_ += '"';
          p += 2;
        } else {
          ++p;
          break;
        }
      }
      while (p != end && *p != dialect_.delimiter) unescaped_ += *p++;  // "a"b: keep what follows
      fields_.push_back(std::string_view(unescaped_).substr(start));
    } else {
      const char* const start = p;
      while (p != end && *p != dialect_.delimiter) ++p;
      fields_.emplace_back(start, static_cast<std::size_t>(p - start));
    }
    if (p == end) return;
    ++p;
  }
}

namespace {

bool looks_like_formula(std::string_view text) {
  // Some programs take the full-width forms of = + - @ for the plain ones.
  for (const char* wide : {"\uFF1D", "\uFF0B", "\uFF0D", "\uFF20"})
    if (text.starts_with(wide)) return true;
  return !text.empty() &&
         (std::string_view("=+-@\t\r\n").find(text.front()) != std::string_view::npos);
}

}  // namespace

std::string csv_field(std::string_view text) {
  std::string result;
  if (looks_like_formula(text) || text.starts_with('\'')) result += '\'';
  result += text;
  if (result.find_first_of(",\"\r\n") == std::string::npos &&
      result == std::string(result.c_str())) {
    const bool blank_edge = !result.empty() && (result.front() == ' ' || result.back() == ' ');
    if (!blank_edge) return result;
  }
  std::string quoted = "\"";
  for (const char c : result) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + '"';
}

std::string_view without_formula_guard(std::string_view field) {
  if (field.size() >= 2 && field.front() == '\'' &&
      (looks_like_formula(field.substr(1)) || field[1] == '\''))
    field.remove_prefix(1);
  return field;
}

}  // namespace base
