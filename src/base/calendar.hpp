// SPDX-License-Identifier: Apache-2.0
// Days of the Gregorian calendar, counted.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace base {

/// Days from 1970-01-01 to this day, by the proleptic Gregorian calendar; nothing where the
/// calendar has no such day (30 February, month 13).
[[nodiscard]] std::optional<long> days_since_1970(int year, int month, int day);

/// The same of "2026-11-26"; nothing where the text is no day.
[[nodiscard]] std::optional<long> day_of(std::string_view text);
struct CivilDay {
  int year = 1970, month = 1, day = 1;
};
/// The day counted so.
[[nodiscard]] CivilDay civil_day(long days);
/// 1 on the first of January.
[[nodiscard]] int day_of_year(long days);
/// A day counted so, as "2026-11-26".
[[nodiscard]] std::string day_text(long days);

}  // namespace base
