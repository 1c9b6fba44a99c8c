// SPDX-License-Identifier: Apache-2.0
#include "site/timer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.hpp"

namespace site {
namespace {

/// Steps of a day from `hour` on until `to_h`; 0 outside the window.
std::size_t left_in(const TimerMonth& m, double hour, double step_h) {
  if (m.from_h == m.to_h || m.target <= 0.0) return 0;
  const double length = m.to_h > m.from_h ? m.to_h - m.from_h : m.to_h + 24.0 - m.from_h;
  double since = hour - m.from_h;
  if (since < -1e-9) since += 24.0;
  return since < length - 1e-9 ? std::size_t(std::max(1.0, std::round((length - since) / step_h)))
                               : 0;
}

/// Months of steps and hours, once for many tables.
struct Calendar {
  std::vector<int> month;
  std::vector<double> hour;
  explicit Calendar(const Year& year) {
    for (std::size_t i = 0; i < year.steps(); ++i) {
      const Clock c = clock_of(year, i);
      month.push_back(c.month - 1), hour.push_back(c.hour);
    }
  }
};

Rules rule_of(const TimerTable& table, const Year& year, const Store& store, const Rules& like,
              const Calendar& calendar) {
  CHECK(table.months.size() == 12);
  Rules rules = like;
  rules.kind = Rules::Kind::timer;
  const double low = std::min(store.reserve_kWh, store.usable_kWh);
  rules.levels.keep_kWh.assign(year.steps(), low);
  rules.levels.fill_to_kWh.assign(year.steps(), low);
  rules.levels.fill_steps.assign(year.steps(), 0);
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const TimerMonth& m = table.months[std::size_t(calendar.month[i])];
    const std::size_t left = left_in(m, calendar.hour[i], year.step_h);
    if (left == 0) continue;
    rules.levels.fill_steps[i] = std::uint16_t(left);
    rules.levels.keep_kWh[i] = rules.levels.fill_to_kWh[i] =
        std::max(low, m.target * store.usable_kWh);
  }
  return rules;
}

/// The cheapest window of so many hours by a month's mean price of each hour.
TimerMonth window(const std::array<double, 24>& price, int month, int hours) {
  TimerMonth m{.month = month};
  double least = 1e300;
  for (int from = 0; from < 24; ++from) {
    double sum = 0.0;
    for (int k = 0; k < hours; ++k) sum += price[std::size_t((from + k) % 24)];
    if (sum < least - 1e-12)
      least = sum, m.from_h = double(from), m.to_h = double((from + hours) % 24);
  }
  return m;
}

}  // namespace

Rules by_timer(const TimerTable& table, const Year& year, const Store& store, const Rules& like) {
  return rule_of(table, year, store, like, Calendar(year));
}

TimerTable timer_table(const Year& year, const Prices& prices, const Store& store,
                       const Rules& like) {
  const Calendar calendar(year);
  std::array<std::array<double, 24>, 12> sum{}, count{};
  for (std::size_t i = 0; i < year.steps(); ++i) {
    const auto m = std::size_t(calendar.month[i]), h = std::size_t(calendar.hour[i]);
    sum[m][h] += prices.buy[i], count[m][h] += 1.0;
  }
  for (std::size_t m = 0; m < 12; ++m)
    for (std::size_t h = 0; h < 24; ++h) sum[m][h] /= std::max(1.0, count[m][h]);
  TimerTable table;
  for (int m = 1; m <= 12; ++m) table.months.push_back({.month = m});
  const auto cost_of = [&](const TimerTable& t) {
    return dispatch(year, &prices, store, rule_of(t, year, store, like, calendar)).cost;
  };
  table.cost = cost_of(table);
  for (std::size_t m = 0; m < 12; ++m) {
    if (count[m][0] == 0.0) continue;
    for (const int hours : {2, 3, 4, 6, 8})
      for (const double target : {0.25, 0.5, 0.75, 1.0}) {
        TimerTable other = table;
        other.months[m] = window(sum[m], int(m) + 1, hours);
        other.months[m].target = target;
        other.cost = cost_of(other);
        // Not for a rounding's worth.
        if (other.cost < table.cost - 1e-6 * (1.0 + std::abs(table.cost))) table = other;
      }
  }
  return table;
}

}  // namespace site
