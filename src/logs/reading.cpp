// SPDX-License-Identifier: Apache-2.0
#include "logs/reading.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "base/encoding.hpp"
#include "base/number.hpp"
#include "logs/header.hpp"

namespace logs {
namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

/// Length of a blank that may part groups of digits, at the front of `text`; zero for none.
std::size_t group_blank(std::string_view text) {
  if (text.front() == ' ' || text.front() == '\'' || text.front() == '\xA0') return 1;
  if (text.starts_with("\xC2\xA0")) return 2;
  if (text.starts_with("\xE2\x80\x89") || text.starts_with("\xE2\x80\xAF") ||
      text.starts_with("\xE2\x80\x99"))
    return 3;
  return 0;
}

/// The field in plain ASCII: sign, digits and marks; blanks inside groups of three dropped. Ends
/// where the number ends; `rest` is what follows.
std::string plain_number(std::string_view field, std::string_view& rest) {
  std::string plain;
  std::string_view text = base::trimmed(field);
  if (text.starts_with("\xE2\x88\x92") || text.starts_with("\xE2\x80\x93")) {  // minus, en dash
    plain += '-';
    text.remove_prefix(3);
  }
  while (!text.empty()) {
    const char c = text.front();
    const bool exponent = (c == 'e' || c == 'E') && !plain.empty() && text.size() > 1 &&
                          (digit(text[1]) || ((text[1] == '-' || text[1] == '+') &&
                                              text.size() > 2 && digit(text[2])));
    const bool sign =
        (c == '-' || c == '+') && (plain.empty() || plain.back() == 'e' || plain.back() == 'E');
    if (digit(c) || c == '.' || c == ',' || exponent || sign) {
      plain += c;
      text.remove_prefix(1);
      continue;
    }
    const std::size_t blank = group_blank(text);
    const std::string_view after = text.substr(std::min(blank, text.size()));
    const bool group = blank > 0 && !plain.empty() && digit(plain.back()) && after.size() >= 3 &&
                       digit(after[0]) && digit(after[1]) && digit(after[2]) &&
                       (after.size() == 3 || !digit(after[3]));
    if (!group) break;
    text.remove_prefix(blank);
  }
  rest = base::trimmed(text);
  return plain;
}

/// Thousands marks stand before groups of three digits, left of the decimal mark.
std::optional<double> with_thousands(std::string_view plain, Marks marks) {
  std::string digits;
  std::size_t since = 0;
  bool marked = false, decimals = false;
  for (const char c : plain) {
    if (c == marks.thousands) {
      if (decimals || (marked && since != 3) || since == 0 || since > 3) return std::nullopt;
      marked = true;
      since = 0;
      continue;
    }
    if (c == marks.decimal && marked && since != 3) return std::nullopt;
    decimals = decimals || c == marks.decimal;
    digits += c;
    since += digit(c);
  }
  if (!decimals && marked && since != 3) return std::nullopt;
  return base::parse_number(digits, marks.decimal);
}

}  // namespace

std::optional<double> parse_reading(std::string_view field, Marks marks) {
  if (const auto value = base::parse_number(field, marks.decimal)) return value;
  std::string_view rest;
  const std::string plain = plain_number(field, rest);
  if (plain.empty()) return std::nullopt;
  if (!rest.empty() && !read_unit(rest)) return std::nullopt;
  if (const auto value = base::parse_number(plain, marks.decimal)) return value;
  if (marks.thousands == '\0') return std::nullopt;
  return with_thousands(plain, marks);
}

std::string_view unit_behind(std::string_view field, Marks marks) {
  std::string_view rest;
  const std::string plain = plain_number(field, rest);
  if (plain.empty() || rest.empty() || !parse_reading(field, marks)) return "";
  return rest;
}

bool no_value(std::string_view field) {
  static constexpr std::array<std::string_view, 29> words = {
      "",      "-",     "--",  "---",         "----",    "n/a",      "na",        "nan",
      "-nan",  "+nan",  "inf", "-inf",        "+inf",    "infinity", "-infinity", "null",
      "none",  "nil",   "ol",  "unavailable", "unknown", "#n/a",     "#value!",   "#div/0!",
      "#num!", "#ref!", "err", "error",       "overload"};
  const std::string word = base::lower(base::trimmed(field));
  if (std::find(words.begin(), words.end(), word) != words.end()) return true;
  // A number beyond what a double holds.
  return word.find('e') != std::string::npos &&
         word.find_first_not_of("0123456789+-.,e") == std::string::npos &&
         !base::parse_number(word, '.') && !base::parse_number(word, ',') && digit(word.back());
}

MarkEvidence mark_evidence(std::string_view field) {
  std::string_view rest;
  const std::string plain = plain_number(field, rest);
  if (plain.empty() || (!rest.empty() && !read_unit(rest))) return MarkEvidence::none;
  const std::size_t point = plain.rfind('.'), comma = plain.rfind(',');
  if (point == std::string::npos && comma == std::string::npos) return MarkEvidence::none;
  const auto right = [&](Marks marks) { return parse_reading(plain, marks).has_value(); };
  if (point != std::string::npos && comma != std::string::npos) {
    if (point > comma) return right({'.', ','}) ? MarkEvidence::point_decimal : MarkEvidence::none;
    return right({',', '.'}) ? MarkEvidence::comma_decimal : MarkEvidence::none;
  }
  const bool is_point = point != std::string::npos;
  const char mark = is_point ? '.' : ',';
  const std::size_t at = is_point ? point : comma;
  const MarkEvidence decimal = is_point ? MarkEvidence::point_decimal : MarkEvidence::comma_decimal;
  const MarkEvidence other = is_point ? MarkEvidence::comma_decimal : MarkEvidence::point_decimal;
  if (plain.find(mark) != at)  // several: thousands, if they stand right
    return right({is_point ? ',' : '.', mark}) ? other : MarkEvidence::none;
  const std::size_t first = plain.find_first_of("0123456789");
  const bool three_after =
      at + 4 == plain.size() || (at + 4 < plain.size() && !digit(plain[at + 4]));
  const bool could_be_thousands = three_after && plain.find_first_of("eE") == std::string::npos &&
                                  first != std::string::npos && first < at && at - first <= 3 &&
                                  plain[first] != '0';
  if (!could_be_thousands) return decimal;
  return is_point ? MarkEvidence::point_or_thousands : MarkEvidence::comma_or_thousands;
}

}  // namespace logs
