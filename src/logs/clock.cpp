// SPDX-License-Identifier: Apache-2.0
#include "logs/clock.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "base/calendar.hpp"
#include "base/encoding.hpp"
#include "base/number.hpp"

namespace logs {
namespace {

bool digit(char c) { return c >= '0' && c <= '9'; }

/// Reads an unsigned whole number at the front and drops it; nothing where there is none.
std::optional<int> take_whole(std::string_view& text) {
  int value = 0;
  std::size_t n = 0;
  while (n < text.size() && n < 9 && digit(text[n])) value = value * 10 + (text[n++] - '0');
  if (n == 0) return std::nullopt;
  text.remove_prefix(n);
  return value;
}

/// "4h28m26s", "0h 00m 01.5s": every part carries its unit.
std::optional<double> parse_spelt_clock(std::string_view text) {
  if (text.empty() || !digit(text.front())) return std::nullopt;
  double seconds = 0.0;
  std::size_t parts = 0;
  double last = 1e9;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find_first_not_of("0123456789.,"), text.size());
    std::string number(text.substr(0, end));
    for (char& c : number)
      if (c == ',') c = '.';
    const auto value = base::parse_number(number);
    text = base::trimmed(text.substr(end));
    if (!value || text.empty()) return std::nullopt;
    const double unit = text.front() == 'h'   ? 3600.0
                        : text.front() == 'm' ? 60.0
                        : text.front() == 's' ? 1.0
                                              : 0.0;
    if (unit == 0.0 || unit >= last) return std::nullopt;
    last = unit;
    seconds += *value * unit;
    ++parts;
    text = base::trimmed(text.substr(1));
  }
  if (parts < 2) return std::nullopt;
  return seconds;
}

/// "20260204081501": date and clock as one run of fourteen digits.
std::optional<DateAndClock> parse_run_of_digits(std::string_view text) {
  if (text.size() == 15 && text[8] == 'T') {
    const std::string joined = std::string(text.substr(0, 8)) + std::string(text.substr(9));
    return parse_run_of_digits(joined);
  }
  if (text.size() != 14 || text.find_first_not_of("0123456789") != std::string_view::npos)
    return std::nullopt;
  const auto part = [&](std::size_t from, std::size_t n) {
    int value = 0;
    for (std::size_t k = from; k < from + n; ++k) value = value * 10 + (text[k] - '0');
    return value;
  };
  const Date date{part(0, 4), part(4, 2), part(6, 2), true};
  const int h = part(8, 2), m = part(10, 2), s = part(12, 2);
  if (h > 23 || m > 59 || s > 59 || date.year > 2100 || !seconds_of(date, DateOrder::ymd))
    return std::nullopt;
  return DateAndClock{date, h * 3600.0 + m * 60.0 + s};
}

}  // namespace

std::optional<double> parse_clock(std::string_view text, bool minutes_seconds) {
  text = base::trimmed(text);
  if (const auto spelt = parse_spelt_clock(text)) return spelt;
  double days = 0.0;
  if (const std::size_t d = text.find('d'); d != std::string_view::npos && d > 0 && d < 6) {
    const auto count = base::parse_number(text.substr(0, d));
    if (!count) return std::nullopt;
    days = *count;
    text = base::trimmed(text.substr(d + 1));
  }
  enum class Half { none, am, pm } half = Half::none;
  if (text.size() > 2 && (text.back() == 'M' || text.back() == 'm')) {
    const char letter = text[text.size() - 2];
    if (letter != 'A' && letter != 'a' && letter != 'P' && letter != 'p') return std::nullopt;
    half = letter == 'A' || letter == 'a' ? Half::am : Half::pm;
    text = base::trimmed(text.substr(0, text.size() - 2));
  }
  std::array<double, 3> parts{};
  std::size_t count = 0;
  for (; count < 3; ++count) {
    const auto whole = take_whole(text);
    if (!whole) return std::nullopt;
    parts[count] = *whole;
    if (text.empty() || text.front() != ':') {
      ++count;
      break;
    }
    text.remove_prefix(1);
  }
  if (count < 2) return std::nullopt;
  if (!text.empty() && (text.front() == '.' || text.front() == ',')) {
    double place = 0.1;
    for (text.remove_prefix(1); !text.empty() && digit(text.front());
         text.remove_prefix(1), place *= 0.1)
      parts[count - 1] += place * (text.front() - '0');
  }
  if (!text.empty()) return std::nullopt;
  double seconds = 0.0;
  if (count == 3)
    seconds = parts[0] * 3600.0 + parts[1] * 60.0 + parts[2];
  else
    seconds = minutes_seconds ? parts[0] * 60.0 + parts[1] : parts[0] * 3600.0 + parts[1] * 60.0;
  if (parts[1] >= 60.0 || (count == 3 && parts[2] >= 61.0)) return std::nullopt;
  if (half != Half::none) {
    if (parts[0] < 1.0 || parts[0] > 12.0) return std::nullopt;
    if (parts[0] == 12.0) seconds -= 12.0 * 3600.0;
    if (half == Half::pm) seconds += 12.0 * 3600.0;
  }
  return days * 86400.0 + seconds;
}

namespace {

/// "Mar", "März", "mrt", "mars" … as 1…12; zero for no month.
int month_named(std::string_view word) {
  static constexpr std::array<std::string_view, 12> starts = {
      "jan|ene",  "feb|fev",     "mar|mrt|mae", "apr|avr|abr", "may|mai|mei", "jun|juin",
      "jul|juil", "aug|aou|ago", "sep",         "oct|okt",     "nov",         "dec|dez|dic"};
  const std::string name = base::folded(word);
  if (name.size() < 3) return 0;
  if (name.starts_with("juin")) return 6;
  for (std::size_t m = 0; m < starts.size(); ++m)
    for (std::size_t at = 0; at < starts[m].size();) {
      const std::size_t end = std::min(starts[m].find('|', at), starts[m].size());
      if (name.starts_with(starts[m].substr(at, end - at))) return static_cast<int>(m) + 1;
      at = end + 1;
    }
  return 0;
}

/// "12-Mar-2026", "12 March 2026", "12. März 2026": the month is a word, so the order is known.
std::optional<Date> parse_named_date(std::string_view text) {
  const auto day = take_whole(text);
  if (!day || text.empty()) return std::nullopt;
  const std::size_t from = text.find_first_not_of(" .-/");
  if (from == std::string_view::npos || digit(text[from])) return std::nullopt;
  text.remove_prefix(from);
  const std::size_t to = text.find_first_of(" .-/,");
  if (to == std::string_view::npos) return std::nullopt;
  const int month = month_named(text.substr(0, to));
  text.remove_prefix(std::min(text.find_first_of("0123456789", to), text.size()));
  const auto year = take_whole(text);
  if (month == 0 || !year || !text.empty()) return std::nullopt;
  return Date{*year < 100 ? *year + 2000 : *year, month, *day, true};
}

}  // namespace

std::optional<Date> parse_date(std::string_view text) {
  text = base::trimmed(text);
  if (const auto named = parse_named_date(text)) return named;
  std::array<int, 3> parts{};
  std::size_t first_length = 0;
  char mark = '\0';
  for (std::size_t i = 0; i < 3; ++i) {
    const std::size_t before = text.size();
    const auto whole = take_whole(text);
    if (!whole) return std::nullopt;
    parts[i] = *whole;
    if (i == 0) first_length = before - text.size();
    if (i == 2) break;
    if (text.empty() || (text.front() != '-' && text.front() != '.' && text.front() != '/'))
      return std::nullopt;
    if (mark != '\0' && text.front() != mark) return std::nullopt;
    mark = text.front();
    text.remove_prefix(1);
  }
  if (!text.empty()) return std::nullopt;
  if (first_length == 4) return Date{parts[0], parts[1], parts[2], true};
  const int year = parts[2] < 100 ? parts[2] + 2000 : parts[2];
  return Date{year, parts[0], parts[1], false};
}

std::optional<double> seconds_of(const Date& date, DateOrder order) {
  int month = date.a, day = date.b;
  if (!date.year_first && order != DateOrder::mdy) std::swap(month, day);
  if (date.year < 1970) return std::nullopt;
  const auto days = base::days_since_1970(date.year, month, day);
  if (!days) return std::nullopt;
  return static_cast<double>(*days) * 86400.0;
}

std::optional<DateAndClock> parse_date_and_clock(std::string_view text) {
  text = base::trimmed(text);
  // The date may hold blanks and letters ("12 Mar 2026 08:15"): the clock begins at the last blank
  // or T before the first colon.
  if (const auto run = parse_run_of_digits(text)) return run;
  const std::size_t colon = text.find(':');
  if (colon == std::string_view::npos) return std::nullopt;
  const std::size_t split = text.find_last_of("T ", colon);
  if (split == std::string_view::npos) return std::nullopt;
  std::string_view day = base::trimmed(text.substr(0, split));
  if (day.ends_with(',')) day.remove_suffix(1);
  const auto date = parse_date(day);
  if (!date) return std::nullopt;
  std::string_view clock = text.substr(split + 1);
  double offset = 0.0;
  if (clock.ends_with('Z')) {
    clock.remove_suffix(1);
  } else if (clock.size() > 6 &&
             (clock[clock.size() - 6] == '+' || clock[clock.size() - 6] == '-')) {
    const auto shift = parse_clock(clock.substr(clock.size() - 5));
    if (!shift) return std::nullopt;
    offset = clock[clock.size() - 6] == '+' ? -*shift : *shift;
    clock.remove_suffix(6);
  }
  const auto seconds = parse_clock(clock);
  if (!seconds) return std::nullopt;
  return DateAndClock{*date, *seconds + offset};
}

}  // namespace logs
