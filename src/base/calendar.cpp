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

}  // namespace base
