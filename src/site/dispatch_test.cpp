// SPDX-License-Identifier: Apache-2.0
#include "site/dispatch.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "site/off_grid.hpp"

namespace {

using site::Rules;
using site::Store;
using site::Year;

/// Thirty days: an evening's load, some sun at noon.
Year month() {
  Year y;
  y.step_h = 1.0;
  for (int i = 0; i < 24 * 30; ++i) {
    const int h = i % 24;
    y.load_kW.push_back(h >= 17 && h < 22 ? 1.8 : 0.3);
    y.solar_kW.push_back(h >= 10 && h < 15 ? 0.5 + 0.03 * (i / 24) : 0.0);
  }
  return y;
}
Store bank() {
  Store s;
  s.usable_kWh = 8.0, s.charge_kW = s.discharge_kW = 3.0;
  return s;
}

TEST(Dispatch, does_not_charge_on_days_that_are_too_cold) {
  const Year y = month();
  Rules rules;
  rules.day_charge_kW.assign(30, 3.0);
  const double all = site::dispatch(y, nullptr, bank(), {}).charge_kWh;
  EXPECT_EQ(site::dispatch(y, nullptr, bank(), rules).charge_kWh, all);
  rules.day_charge_kW.assign(30, 0.0);
  EXPECT_EQ(site::dispatch(y, nullptr, bank(), rules).charge_kWh, 0.0);
  // One day in the middle: what it would have stored is missing, to the kilowatt-hour.
  rules.day_charge_kW.assign(30, 3.0);
  rules.day_charge_kW[10] = 0.0;
  std::vector<double> charge;
  (void)site::dispatch(y, nullptr, bank(), rules, &charge);
  EXPECT_LE(*std::max_element(charge.begin() + 241, charge.begin() + 264), charge[240]);
  EXPECT_LT(site::dispatch(y, nullptr, bank(), rules).charge_kWh, all);
}

TEST(Dispatch, loses_most_of_its_efficiency_at_small_powers) {
  Year y;
  y.step_h = 1.0;
  for (int i = 0; i < 48; ++i)
    y.solar_kW.push_back(i < 24 ? 0.3 : 0.0), y.load_kW.push_back(i < 24 ? 0.0 : 0.3);
  Store s = bank();
  s.charging = s.discharging = site::loss_through(0.90, 0.96, 0.95);
  const auto o = site::dispatch(y, nullptr, s, {});
  // A tenth of the rating each way: nine tenths of nine tenths, as the three points say.
  EXPECT_NEAR(o.charge_kWh, 7.2, 1e-9);
  EXPECT_NEAR(o.discharge_kWh / o.charge_kWh, (2.0 - 1.0 / 0.90) * 0.90, 1e-6);
}

TEST(LossOfLoad, of_a_case_by_hand) {
  // Load 1 kW for four hours, 2.5 kWh in the store: the third hour misses a half, the fourth all.
  // Egido and Lorenzo's share by energy 1.5 of 4; by time two hours of four.
  Year y;
  y.step_h = 1.0;
  y.load_kW.assign(24, 0.0), y.solar_kW.assign(24, 0.0);
  for (std::size_t i = 0; i < 4; ++i) y.load_kW[i] = 1.0;
  Store s;
  s.usable_kWh = 2.5, s.charging = s.discharging = {};
  const auto loss = site::loss_of_load(y, s, 1, 1);
  EXPECT_NEAR(loss.energy_share, 0.375, 1e-12);
  EXPECT_NEAR(loss.time_share, 2.0 / 24.0, 1e-12);
}

TEST(LossOfLoad, falls_with_the_bank_and_keeps_the_years_sun) {
  const Year y = month();
  double sum = 0.0, again = 0.0;
  const Year other = site::resampled(y, 3);
  for (std::size_t i = 0; i < y.steps(); ++i) sum += y.solar_kW[i], again += other.solar_kW[i];
  EXPECT_NEAR(again, sum, 0.25 * sum);
  EXPECT_NE(other.solar_kW, y.solar_kW);
  EXPECT_EQ(other.load_kW, y.load_kW);
  double last = 1.0;
  for (const double kWh : {0.0, 2.0, 4.0, 8.0}) {
    Store s = bank();
    s.usable_kWh = kWh;
    const double lost = site::loss_of_load(y, s, 5, 1).energy_share;
    EXPECT_LT(lost, last);
    last = lost;
  }
  Year sunny = y;
  for (double& kW : sunny.solar_kW) kW *= 8.0;
  const double size = site::size_for_loss(sunny, bank(), 0.02, 100.0, 5, 1);
  Store s = bank();
  s.usable_kWh = size;
  EXPECT_LE(site::loss_of_load(sunny, s, 5, 1).energy_share, 0.02);
  s.usable_kWh = size - 0.2;
  EXPECT_GT(site::loss_of_load(sunny, s, 5, 1).energy_share, 0.02);
}

}  // namespace
