// SPDX-License-Identifier: Apache-2.0
#include "site/year.hpp"

#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"

namespace site {

Clock clock_of(const Year& year, std::size_t step) {
  const std::size_t a_day = year.steps_a_day();
  const long day = year.first_day + long(step / a_day);
  const base::CivilDay civil = base::civil_day(day);
  // 1970-01-01 was a Thursday.
  return {civil.month, civil.day, int(((day + 3) % 7 + 7) % 7), double(step % a_day) * year.step_h};
}

Prices prices_of(const Year& year, const std::vector<PriceBand>& bands, double sell) {
  Prices prices;
  const double none = std::numeric_limits<double>::quiet_NaN();
  prices.buy.assign(year.steps(), none);
  prices.sell.assign(year.steps(), sell);
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const Clock c = clock_of(year, i);
    for (const PriceBand& b : bands) {
      const double h = c.hour + 1e-9;
      const bool within =
          b.from_h < b.to_h ? h >= b.from_h && h < b.to_h : h >= b.from_h || h < b.to_h;
      if (within && (b.weekdays >> unsigned(c.weekday) & 1U) != 0 &&
          (b.months >> unsigned(c.month - 1) & 1U) != 0)
        prices.buy[i] = b.price;
    }
    if (std::isnan(prices.buy[i]))
      throw base::InputError(
          {},
          fmt::format("no price at {:02}:{:02} on day {} of month {}", int(c.hour),
                      int(std::lround((c.hour - std::floor(c.hour)) * 60.0)), c.day, c.month),
          "a band for every hour of every day", "add one without hours as the price of the rest");
  }
  return prices;
}

}  // namespace site
