// SPDX-License-Identifier: Apache-2.0
// What a plain inverter's clock can be set to: by month, hours in which the grid fills the store,
// and how far.
#pragma once

#include <vector>

#include "site/dispatch.hpp"

namespace site {

/// A month's row: from `from_h` to `to_h` (before `from_h`: past midnight) the grid fills up to
/// `target` of what is usable and nothing below that is given; at other hours as with self-use.
struct TimerMonth {
  int month = 1;
  double from_h = 0.0, to_h = 0.0, target = 0.0;
};
struct TimerTable {
  std::vector<TimerMonth> months;  ///< twelve
  double cost = 0.0;               ///< of the year by this table
};

/// The rule that a table makes.
[[nodiscard]] Rules by_timer(const TimerTable& table, const Year& year, const Store& store,
                             const Rules& like = {});

/// The table that costs least on this year, month by month, of windows of 2 to 8 hours where the
/// month's mean prices are lowest and targets by quarters. It is fitted to a year that is known.
[[nodiscard]] TimerTable timer_table(const Year& year, const Prices& prices, const Store& store,
                                     const Rules& like = {});

}  // namespace site
