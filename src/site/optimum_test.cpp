// SPDX-License-Identifier: Apache-2.0
#include "site/optimum.hpp"

#include <gtest/gtest.h>

namespace {

/// Two kWh at 0.10 in the first hour, used at 0.40 and 0.30; lossless, room for one.
TEST(Optimum, of_four_hours_by_hand_with_what_a_kilowatt_hour_is_worth) {
  site::Year y;
  y.step_h = 1.0;
  y.load_kW = {0.0, 1.0, 0.0, 1.0}, y.solar_kW = {0.0, 0.0, 0.0, 0.0};
  site::Prices p;
  p.buy = {0.10, 0.40, 0.20, 0.30}, p.sell = {0.05, 0.05, 0.05, 0.05};
  site::Store s;
  s.usable_kWh = 1.0, s.charging = s.discharging = {};
  const site::Bound b = site::optimum(y, p, s);
  ASSERT_EQ(b.status, site::Bound::Status::optimal);
  EXPECT_NEAR(b.cost, 0.10 + 0.20, 1e-12);
  EXPECT_NEAR(b.held_kWh[0], 1.0, 1e-12);
  EXPECT_NEAR(b.held_kWh[1], 0.0, 1e-12);
  // A second kWh would be bought at 0.10 instead of 0.20, for the last hour.
  EXPECT_NEAR(b.next_usable_kWh, 0.10, 1e-12);
  EXPECT_NEAR(b.import_kWh, 2.0, 1e-12);
  // Held full over one hour, a kWh is worth no less than what it replaces later.
  EXPECT_GE(b.kWh_worth[0], 0.10 - 1e-12);
  EXPECT_LE(b.kWh_worth[0], 0.40 + 1e-12);
  // A peak dear enough keeps the import even: half a kW in each hour.
  p.demand_kW_month = 10.0;
  const site::Bound even = site::optimum(y, p, s);
  ASSERT_EQ(even.status, site::Bound::Status::optimal);
  EXPECT_NEAR(even.cost, 0.5 * (0.10 + 0.40 + 0.20 + 0.30) + 10.0 * 0.5, 1e-8);
  // Without the grid nothing may be stored; on cold days neither.
  p.demand_kW_month = 0.0;
  site::BoundOptions options;
  options.from_grid = false;
  EXPECT_NEAR(site::optimum(y, p, s, options).cost, 0.70, 1e-12);
  options.from_grid = true;
  const std::vector<double> cold = {0.0};
  options.day_charge_kW = cold;
  EXPECT_NEAR(site::optimum(y, p, s, options).cost, 0.70, 1e-12);
}

}  // namespace
