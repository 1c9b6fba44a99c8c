// SPDX-License-Identifier: Apache-2.0
// The rules on an open year of a household, half-hours, four times its panels, under tariffs by the
// hour, two open years of market prices, and paid months' peaks: against self-use and the best
// year.
#include <cmath>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/csv_table.hpp"
#include "site/optimum.hpp"
#include "site/timer.hpp"
#include "site/years.hpp"
#include "tests/support/support.hpp"

namespace {

using site::Prices;
using site::Rules;
using site::Store;
using site::Year;
using Kind = site::Rules::Kind;

Year household(const std::filesystem::path& data) {
  Year y;
  y.step_h = 0.5;
  y.first_day = *base::day_of("2011-07-01");
  const base::CsvTable table(
      support::read(data / "raw" / "household12_load_pv_30min_2011-07_2012-06.csv"), "year");
  for (const auto& row : table.rows()) {
    y.load_kW.push_back(*table.number(row, 1));
    y.solar_kW.push_back(4.0 * *table.number(row, 2));
  }
  return y;
}

struct Tariff {
  std::string name;
  Prices prices;
};
std::vector<Tariff> tariffs(const Year& y, const std::filesystem::path& data) {
  std::vector<Tariff> all;
  all.push_back({"one price", site::prices_of(y, {{.name = "", .price = 0.30}}, 0.06)});
  all.push_back({"two", site::prices_of(y,
                                        {{.name = "day", .price = 0.32},
                                         {.name = "night", .price = 0.22, .from_h = 22, .to_h = 6}},
                                        0.08)});
  all.push_back(
      {"three", site::prices_of(
                    y,
                    {{.name = "day", .price = 0.25},
                     {.name = "night", .price = 0.15, .from_h = 22, .to_h = 7},
                     {.name = "peak", .price = 0.45, .from_h = 14, .to_h = 20, .weekdays = 0x1F}},
                    0.06)});
  for (const char* year : {"2023", "2024"}) {
    const base::CsvTable table(
        support::read(data / "raw" / (std::string("price_DE-LU_") + year + ".csv")), "price");
    Tariff market{year, all.front().prices};
    for (std::size_t i = 0; i < y.steps(); ++i) {
      const auto& row = table.rows()[std::min(table.rows().size() - 1, i / 2)];
      // 0.15 of fees and a tax of 19 % on the market's price (invented).
      market.prices.buy[i] = 0.15 + 1.19 * *table.number(row, 1) / 1000.0;
    }
    all.push_back(market);
  }
  for (const std::size_t k : {0U, 2U}) {
    Tariff paid = all[k];
    paid.name += " and peaks", paid.prices.demand_kW_month = 6.0;
    all.push_back(paid);
  }
  return all;
}

TEST(OpenYearRules, are_never_worse_than_self_use_and_near_the_best_year) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const Year y = household(data);
  for (const Tariff& t : tariffs(y, data)) {
    for (const double kWh : {5.0, 10.0}) {
      Store s;
      s.usable_kWh = kWh, s.charge_kW = s.discharge_kW = kWh / 2.0, s.standby_kW = 0.02;
      const double without = site::cost_without(y, t.prices),
                   alone = site::dispatch(y, &t.prices, s, {}).cost;
      const site::Bound best = site::optimum(y, t.prices, s);
      ASSERT_EQ(best.status, site::Bound::Status::optimal);
      const bool peaks = t.prices.demand_kW_month > 0.0;
      for (const double error : {0.0, 0.25})
        for (const Kind kind : {Kind::shift, Kind::follow, Kind::ahead}) {
          const std::string what =
              fmt::format("{} {} kWh {} error {}", t.name, kWh, site::name(kind), error);
          Rules rules;
          rules.kind = kind, rules.error_sd = error;
          const double cost =
              site::dispatch(y, &t.prices, s, site::remade(rules, y, t.prices, s)).cost;
          const double share = (without - cost) / (without - best.cost);
          EXPECT_GE(cost, best.cost - best.gap - 1e-6) << what;
          EXPECT_LE(cost, alone * 1.01) << what;
          if (kind == Kind::shift) continue;
          if (error == 0.0) {
            EXPECT_GE(share, peaks ? 0.92 : 0.97) << what;
          }
          // Peaks of a load known by its week's mean alone are half left: nothing better is known.
          if (error > 0.0) {
            EXPECT_GE(share, peaks ? 0.72 : 0.89) << what;
          }
        }
      // The clock's table, fitted to the year, is between self-use and the best.
      const site::TimerTable table = site::timer_table(y, t.prices, s);
      EXPECT_LE(table.cost, alone + 1e-9) << t.name;
      EXPECT_GE(table.cost, best.cost - 1e-6) << t.name;
      if (t.name == "three") {
        EXPECT_LT(table.cost, 0.98 * alone);
      }
    }
  }
}

// What `shift` did before it looked at the next day: 316 nights filled for days that then export.
TEST(OpenYearRules, shift_buys_at_night_only_what_the_day_does_not_give) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const Year y = household(data);
  const Prices p = tariffs(y, data)[2].prices;
  Store s;
  s.usable_kWh = 5.0, s.charge_kW = s.discharge_kW = 2.5;
  Rules rules;
  rules.kind = Kind::shift;
  std::vector<double> E;
  const auto o = site::dispatch(y, &p, s, site::remade(rules, y, p, s), &E);
  // Nights in which the grid gave more than 0.5 kWh to the store before a day that then sold more
  // than that.
  int in_vain = 0, nights = 0;
  for (std::size_t d = 0; d + 1 < y.steps() / 48; ++d) {
    double bought = 0.0, sold = 0.0, before = d == 0 ? 0.0 : E[d * 48 - 1];
    for (std::size_t i = d * 48; i < d * 48 + 14; ++i) {
      const double x = E[i] - before;
      before = E[i];
      if (x > 0.0) bought += std::max(0.0, x - 0.5 * std::max(0.0, y.solar_kW[i] - y.load_kW[i]));
    }
    for (std::size_t i = d * 48 + 14; i < d * 48 + 44; ++i) {
      const double x = E[i] - E[i - 1];
      sold += std::max(0.0, 0.5 * (y.solar_kW[i] - y.load_kW[i]) - std::max(0.0, x) / 0.95);
    }
    nights += bought > 0.5, in_vain += bought > 0.5 && sold > 0.5;
  }
  EXPECT_GT(nights, 30);
  EXPECT_LT(in_vain, 316 / 4) << nights;
  EXPECT_GT(o.charge_kWh, 0.0);
}

TEST(OpenYearSweep, carries_the_bound_beside_every_size) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const Year y = household(data);
  const Prices p = tariffs(y, data)[2].prices;
  Store s;
  s.charge_kW = s.discharge_kW = 4.0;
  site::Life life;
  Rules rules;
  rules.kind = Kind::follow;
  auto points = site::sweep(y, p, s, rules, life, {0.0, 2.0, 4.0, 6.0, 8.0, 12.0, 16.0});
  site::put_bounds(points, y, p, s, rules, life);
  for (std::size_t k = 0; k < points.size(); ++k) {
    ASSERT_TRUE(points[k].best_saving.has_value());
    EXPECT_LE(points[k].saving, *points[k].best_saving + 1e-6) << k;
    if (k > 0) {
      EXPECT_GE(points[k].saving, 0.95 * *points[k].best_saving) << k;
    }
    // Worth less and less: the bound is concave where powers no longer grow with the size.
    if (k > 0) {
      EXPECT_GE(*points[k].best_saving, *points[k - 1].best_saving - 1e-6) << k;
    }
  }
}

}  // namespace
