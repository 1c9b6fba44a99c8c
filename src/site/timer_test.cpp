// SPDX-License-Identifier: Apache-2.0
#include "site/timer.hpp"

#include <gtest/gtest.h>

namespace {

TEST(ByTimer, fills_in_its_window_past_midnight_and_keeps_its_target) {
  site::Year y;
  y.step_h = 1.0;
  y.first_day = 20089;  // 2025-01-01
  y.load_kW.assign(72, 0.5), y.solar_kW.assign(72, 0.0);
  site::Prices p;
  p.buy.assign(72, 0.3), p.sell.assign(72, 0.06);
  site::Store s;
  s.usable_kWh = 8.0, s.charge_kW = s.discharge_kW = 3.0;
  site::TimerTable table;
  for (int m = 1; m <= 12; ++m) table.months.push_back({.month = m});
  table.months[0] = {.month = 1, .from_h = 23.0, .to_h = 3.0, .target = 0.5};
  std::vector<double> E;
  const site::Rules rules = site::by_timer(table, y, s);
  (void)site::dispatch(y, &p, s, rules, &E);
  // The first window has three hours left at midnight; then four from 23 h on, in even parts.
  EXPECT_NEAR(E[2], 4.0, 1e-9);
  EXPECT_LT(E[10], 1.0);
  EXPECT_NEAR(E[26], 4.0, 1e-9);
  EXPECT_NEAR(E[23] - E[22], E[26] - E[25], 1e-9);
  // A month that is not told does self-use.
  table.months[0].target = 0.0;
  EXPECT_EQ(site::dispatch(y, &p, s, site::by_timer(table, y, s)).cost,
            site::dispatch(y, &p, s, {}).cost);
}

}  // namespace
