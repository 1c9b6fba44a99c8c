// SPDX-License-Identifier: Apache-2.0
// Times as testers write them: clock, elapsed, date and time in one field or two.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

namespace logs {

enum class DateOrder : std::uint8_t { unknown, dmy, mdy, ymd };

/// Seconds of "1:02:03.5", "02:03:04,052", "3d 00:00:01.052", "12:05:01 PM". Needs two colons, or
/// one and `two_parts`: then h:mm (minutes_seconds false) or mm:ss.
[[nodiscard]] std::optional<double> parse_clock(std::string_view text,
                                                bool minutes_seconds = false);

/// A date; `a` and `b` are the first and the second number where the year stands last.
struct Date {
  int year = 0, a = 0, b = 0;
  bool year_first = false;
};
[[nodiscard]] std::optional<Date> parse_date(std::string_view text);
/// Seconds since 1970 at the start of the day, or nothing where the order makes no such day.
[[nodiscard]] std::optional<double> seconds_of(const Date& date, DateOrder order);

/// Splits "2020-02-03T08:15:01.052Z" or "03.02.2020 08:15:00" into its date and its clock.
struct DateAndClock {
  Date date;
  double clock_s = 0.0;
};
[[nodiscard]] std::optional<DateAndClock> parse_date_and_clock(std::string_view text);

}  // namespace logs
