// SPDX-License-Identifier: Apache-2.0
#include "site/rules.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <gtest/gtest.h>

#include "site/dispatch.hpp"
#include "site/optimum.hpp"
#include "site/timer.hpp"

namespace {

using site::Prices;
using site::Rules;
using site::Store;
using site::Year;

/// Thirty days: an evening's load, some sun at noon, prices with a cheap night and a dear evening.
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
Prices moving(const Year& y) {
  Prices p;
  for (std::size_t i = 0; i < y.steps(); ++i) {
    const double h = double(i % 24);
    p.buy.push_back(0.25 + 0.12 * std::sin((h - 12.0) / 24.0 * 2.0 * M_PI) +
                    0.02 * std::cos(double(i / 24)));
    p.sell.push_back(0.06);
  }
  return p;
}
Store bank() {
  Store s;
  s.usable_kWh = 8.0, s.charge_kW = s.discharge_kW = 3.0;
  return s;
}
double cost_of(Rules rules, const Year& y, const Prices& p, const Store& s) {
  return site::dispatch(y, &p, s, site::remade(rules, y, p, s)).cost;
}

TEST(Following, gets_less_the_worse_the_forecast_and_never_more_than_foresight) {
  const Year y = month();
  const Prices p = moving(y);
  const Store s = bank();
  const double best = site::optimum(y, p, s).cost, alone = site::dispatch(y, &p, s, {}).cost;
  for (const Rules::Kind kind : {Rules::Kind::follow, Rules::Kind::ahead}) {
    const auto cost = [&](double error) {
      double sum = 0.0;
      for (unsigned seed = 1; seed <= 20; ++seed) {
        Rules rules;
        rules.kind = kind, rules.error_sd = error, rules.seed = seed;
        const double one = cost_of(rules, y, p, s);
        EXPECT_GE(one, best - 1e-9);
        sum += one / 20.0;
      }
      return sum;
    };
    const double sure = cost(0.0), usual = cost(0.3), poor = cost(2.0);
    EXPECT_LT(sure, alone);  // following the prices pays here
    EXPECT_LT(sure, usual);
    EXPECT_LT(usual, poor);
    EXPECT_GT((alone - sure) / (alone - best), 0.9);
  }
}

TEST(Following, at_one_price_is_as_good_as_self_use) {
  const Year y = month();
  const Prices p = site::prices_of(y, {{.name = "", .price = 0.3}}, 0.06);
  const double alone = site::dispatch(y, &p, bank(), {}).cost;
  for (const Rules::Kind kind : {Rules::Kind::shift, Rules::Kind::follow, Rules::Kind::ahead})
    for (const double error : {0.0, 0.25}) {
      Rules rules;
      rules.kind = kind, rules.error_sd = error;
      EXPECT_LT(cost_of(rules, y, p, bank()), alone * (error > 0.0 ? 1.01 : 1.001) + 1e-9);
    }
}

/// Every way on a grid of charges, without losses: the least cost of the whole stretch.
double by_trying(const Year& y, const Prices& p, const Store& s, double grid) {
  const double none = std::numeric_limits<double>::infinity();
  const auto count = std::size_t(std::lround(s.usable_kWh / grid)) + 1;
  std::vector<double> value(count, none), next(count);
  value[0] = 0.0;
  for (std::size_t i = 0; i < y.steps(); ++i) {
    std::fill(next.begin(), next.end(), none);
    for (std::size_t from = 0; from < count; ++from)
      for (std::size_t to = 0; to < count; ++to) {
        const double x = (double(to) - double(from)) * grid;  // an hour's power
        if (value[from] == none || x > s.charge_kW || -x > s.discharge_kW) continue;
        const double net = y.solar_kW[i] - y.load_kW[i] - x;  // to the grid
        // What the sun does not give cannot be sold.
        if (net > y.solar_kW[i]) continue;
        const double cost = net > 0.0 ? -net * p.sell[i] : -net * p.buy[i];
        next[to] = std::min(next[to], value[from] + cost);
      }
    value.swap(next);
  }
  return *std::min_element(value.begin(), value.end());
}

TEST(Ahead, with_all_in_sight_does_what_trying_every_way_finds) {
  std::mt19937_64 engine(4);
  const auto whole = [&](int most) { return double(engine() % std::uint64_t(most + 1)); };
  for (int k = 0; k < 100; ++k) {
    Year y;
    y.step_h = 1.0;
    Prices p;
    for (int i = 0; i < 36; ++i) {
      y.load_kW.push_back(0.5 * whole(6)), y.solar_kW.push_back(0.5 * whole(8) * whole(1));
      p.buy.push_back(0.10 + 0.05 * whole(8)), p.sell.push_back(0.05 * whole(1));
    }
    Store s;
    s.usable_kWh = 0.5 * (1.0 + whole(9)), s.charge_kW = 0.5 * (1.0 + whole(5));
    s.discharge_kW = 0.5 * (1.0 + whole(5)), s.charging = s.discharging = {};
    Rules rules;
    rules.kind = Rules::Kind::ahead, rules.horizon_h = 48.0;
    const double tried = by_trying(y, p, s, 0.5);
    EXPECT_NEAR(cost_of(rules, y, p, s), tried, 1e-9) << k;
    EXPECT_NEAR(site::optimum(y, p, s).cost, tried, 1e-9) << k;
    // With eight hours in sight it is never better.
    rules.horizon_h = 8.0;
    EXPECT_GE(cost_of(rules, y, p, s), tried - 1e-9) << k;
  }
}

TEST(Shift, does_not_buy_at_night_what_the_next_day_gives_anyway) {
  Year y;
  y.step_h = 1.0;
  for (int i = 0; i < 24 * 20; ++i) {
    const int h = i % 24;
    y.load_kW.push_back(0.4);
    // Ten bright days, then ten dull ones.
    y.solar_kW.push_back(h >= 9 && h < 16 ? (i < 240 ? 4.0 : 0.3) : 0.0);
  }
  const Prices p = site::prices_of(
      y, {{.name = "day", .price = 0.35}, {.name = "night", .price = 0.15, .to_h = 6}}, 0.06);
  const Store s = bank();
  const Rules rules = site::shifting(y, p, s, 0.0);
  ASSERT_EQ(rules.kind, Rules::Kind::shift);
  std::vector<double> E;
  const double cost = site::dispatch(y, &p, s, rules, &E).cost;
  // In bright days it buys nothing at night, and gives what the morning will not take.
  for (std::size_t d = 2; d < 9; ++d)
    EXPECT_NEAR(E[d * 24 - 1] - E[d * 24 + 5], 6.0 * 0.4 / 0.95, 1e-9) << d;
  // In dull ones what eighteen hours less the sun take, spread over the six cheap hours.
  for (std::size_t d = 12; d < 18; ++d) {
    EXPECT_GT(E[d * 24 + 5], 4.5) << d;
    const double first = E[d * 24] - E[d * 24 - 1], last = E[d * 24 + 5] - E[d * 24 + 4];
    EXPECT_NEAR(first, last, 1e-9) << d;
  }
  EXPECT_LT(cost, site::dispatch(y, &p, s, {}).cost);
  EXPECT_NEAR(cost, site::optimum(y, p, s).cost, 0.02 * std::abs(cost) + 0.2);
}

TEST(Shift, fills_under_the_months_peak_so_far) {
  Year y;
  y.step_h = 1.0;
  for (int i = 0; i < 24 * 28; ++i)
    y.load_kW.push_back(i % 24 == 12 ? 1.0 : 0.3), y.solar_kW.push_back(0.0);
  Prices p = site::prices_of(
      y, {{.name = "day", .price = 0.35}, {.name = "night", .price = 0.15, .to_h = 3}}, 0.06);
  const Store s = bank();
  const double unpaid = site::dispatch(y, &p, s, site::shifting(y, p, s, 0.0)).peak_import_kW;
  EXPECT_GT(unpaid, 1.5);  // all is bought in three hours
  p.demand_kW_month = 10.0;
  const double paid = site::dispatch(y, &p, s, site::shifting(y, p, s, 0.0)).peak_import_kW;
  EXPECT_LE(paid, 1.0 + 1e-9);
}

TEST(TimerTable, fills_in_the_cheap_hours_of_the_months_that_need_it) {
  Year y;
  y.step_h = 1.0;
  y.first_day = 20089;  // 2025-01-01
  for (int i = 0; i < 24 * 365; ++i) {
    const int h = i % 24;
    const double season = 0.5 - 0.5 * std::cos(2.0 * M_PI * (i / 24 + 10) / 365.0);
    y.load_kW.push_back(h >= 17 && h < 22 ? 1.2 : 0.3);
    y.solar_kW.push_back(h >= 9 && h < 16 ? 4.0 * season * season : 0.0);
  }
  const Prices p = site::prices_of(
      y,
      {{.name = "day", .price = 0.35}, {.name = "night", .price = 0.15, .from_h = 23, .to_h = 5}},
      0.06);
  const Store s = bank();
  const site::TimerTable table = site::timer_table(y, p, s);
  ASSERT_EQ(table.months.size(), 12U);
  EXPECT_GE(table.months[0].target, 0.75);         // January fills
  EXPECT_LE(table.months[5].target, 0.25 + 1e-9);  // June has its sun
  EXPECT_TRUE(table.months[0].from_h >= 23.0 || table.months[0].to_h <= 5.0);
  const double alone = site::dispatch(y, &p, s, {}).cost,
               table_cost = site::dispatch(y, &p, s, site::by_timer(table, y, s)).cost;
  EXPECT_EQ(table_cost, table.cost);
  EXPECT_LT(table.cost, alone);
  EXPECT_GE(table.cost, site::optimum(y, p, s).cost - 1e-9);
  // One price: nothing to type in.
  const Prices flat = site::prices_of(y, {{.name = "", .price = 0.3}}, 0.06);
  for (const site::TimerMonth& m : site::timer_table(y, flat, s).months) EXPECT_EQ(m.target, 0.0);
}

}  // namespace
