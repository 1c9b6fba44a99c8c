// SPDX-License-Identifier: Apache-2.0
// A year at the house in equal steps: what is used, what the sun gives, what a kilowatt-hour costs.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace site {

/// Mean powers in equal steps, in the place's standard time without summer time, from the start of
/// `first_day` (days since 1970) on.
struct Year {
  double step_h = 0.25;
  long first_day = 0;
  std::vector<double> load_kW, solar_kW;
  [[nodiscard]] std::size_t steps() const { return load_kW.size(); }
  [[nodiscard]] std::size_t steps_a_day() const { return std::size_t(24.0 / step_h + 0.5); }
};

/// Where a step lies.
struct Clock {
  int month = 1, day = 1;  ///< from 1
  int weekday = 0;         ///< 0 Monday … 6 Sunday
  double hour = 0.0;       ///< of the step's start, 0…24
};
[[nodiscard]] Clock clock_of(const Year& year, std::size_t step);

/// One price of a tariff: it holds from `from_h` to `to_h` (before `from_h`: past midnight), on
/// these weekdays, in these months. A later one overrides an earlier.
struct PriceBand {
  std::string name;
  double price = 0.0;  ///< a kWh
  double from_h = 0.0, to_h = 24.0;
  unsigned weekdays = 0x7F;  ///< bit 0 Monday
  unsigned months = 0xFFF;   ///< bit 0 January
};

/// What is paid and got in every step, and what comes beside.
struct Prices {
  std::vector<double> buy, sell;  ///< a kWh
  double demand_kW_month = 0.0;   ///< for each month's highest import, a kW
  double standing_year = 0.0;
};
/// Every step must be covered: a gap is an InputError that names its first hour. `sell` is one
/// price.
[[nodiscard]] Prices prices_of(const Year& year, const std::vector<PriceBand>& bands, double sell);

}  // namespace site
