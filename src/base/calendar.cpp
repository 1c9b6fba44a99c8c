// SPDX-License-Identifier: Apache-2.0
#include "base/calendar.hpp"

#include <array>

namespace base {

std::optional<long> days_since_1970(int year, int month, int day) {
  constexpr std::array<int, 12> lengths = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
  const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
  const auto length = [&](int m) {
    return lengths[static_cast<std::size_t>(m - 1)] + (m == 2 && leap ? 1 : 0);
  };
  if (year < 1 || month < 1 || month > 12 || day < 1 || day > length(month)) return std::nullopt;
  const long before = year - 1L;
  long days =
      before * 365 + before / 4 - before / 100 + before / 400 - 719162;  // 0001-01-01 to 1970-01-01
  for (int m = 1; m < month; ++m) days += length(m);
  return days + day - 1;
}

std::optional<long> day_of(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
  int part[3] = {};
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (i == 4 || i == 7) continue;
    if (text[i] < '0' || text[i] > '9') return std::nullopt;
    int& n = part[i < 4 ? 0 : i < 7 ? 1 : 2];
    n = n * 10 + (text[i] - '0');
  }
  return days_since_1970(part[0], part[1], part[2]);
}

CivilDay civil_day(long days) {
  // Eras of 400 years of 146097 days, years that begin in March.
  const long z = days + 719468, era = (z >= 0 ? z : z - 146096) / 146097, of_era = z - era * 146097;
  const long year_of_era = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
  const long of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
  const long shifted = (5 * of_year + 2) / 153;
  const long day = of_year - (153 * shifted + 2) / 5 + 1,
             month = shifted < 10 ? shifted + 3 : shifted - 9;
  return {int(year_of_era + era * 400 + (month <= 2 ? 1 : 0)), int(month), int(day)};
}

int day_of_year(long days) { return int(days - *days_since_1970(civil_day(days).year, 1, 1)) + 1; }

std::string day_text(long days) {
  const CivilDay c = civil_day(days);
  const auto two = [](int n) { return std::string(n < 10 ? "0" : "") + std::to_string(n); };
  std::string text = std::to_string(c.year);
  while (text.size() < 4) text.insert(text.begin(), '0');
  return text + "-" + two(c.month) + "-" + two(c.day);
}

}  // namespace base
