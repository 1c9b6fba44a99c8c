// SPDX-License-Identifier: Apache-2.0
// Money over years and ageing under changing conditions, against worked examples.
#include "money/money.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "life/wear.hpp"

namespace {

namespace units = base::units;

// −1000, 200 for ten years at 5 %: 544.35, 15.098 %, back in 5.8986 years (linear within the year).
// −3000, 450·0.98^(t−1) − 30 for fifteen years at 4 %: 1090.69, 9.117 %, 9.4992 years.
TEST(Payback, is_that_of_worked_examples) {
  std::vector<double> a = {-1000.0};
  for (int t = 0; t < 10; ++t) a.push_back(200.0);
  EXPECT_NEAR(money::present_value(0.05, a), 544.3470, 1e-4);
  EXPECT_NEAR(*money::internal_rate(a), 0.1509841, 1e-7);
  EXPECT_NEAR(*money::discounted_payback(0.05, a), 5.8986, 5e-5);
  std::vector<double> b = {-3000.0};
  for (int t = 1; t <= 15; ++t) b.push_back(450.0 * std::pow(0.98, t - 1) - 30.0);
  EXPECT_NEAR(money::present_value(0.04, b), 1090.6893, 1e-4);
  EXPECT_NEAR(*money::internal_rate(b), 0.0911720, 1e-7);
  EXPECT_NEAR(*money::discounted_payback(0.04, b), 9.4992, 5e-5);
  EXPECT_FALSE(money::discounted_payback(0.2, a));
  // Capital recovery: 3 %/20, 5 %/15, 8 %/10 years. [NIST-HB135]
  EXPECT_NEAR(money::annuity(0.03, 20), 0.06721571, 1e-8);
  EXPECT_NEAR(money::annuity(0.05, 15), 0.09634229, 1e-8);
  EXPECT_NEAR(money::annuity(0.08, 10), 0.14902949, 1e-8);
}

// [Schmidt2019] form on a home's store: 10 kWh, 5 kW, 200 a kWh, 150 a kW, 4 a kW and year, depth
// 0.9, 0.92, 6000 cycles, 20 years, 250 cycles a year, 5 %, 0.08: 10.909 years, 0.258649.
TEST(LifetimeCost, is_that_of_a_worked_example) {
  const money::LifetimeCost in = {.investment = 10 * 200.0 + 5 * 150.0,
                                  .upkeep_year = 20.0,
                                  .energy_price = 0.08,
                                  .end_value = 0.0,
                                  .usable_kWh = 10.0,
                                  .depth = 0.9,
                                  .round_trip = 0.92,
                                  .cycles_year = 250.0,
                                  .rated_cycles = 6000.0,
                                  .shelf_years = 20.0,
                                  .end_share = 0.8,
                                  .rate = 0.05};
  const auto r = money::lifetime_cost(in);
  EXPECT_NEAR(r.years, 10.9091, 1e-4);
  EXPECT_NEAR(r.discounted_kWh, 16978.44, 0.5);
  EXPECT_NEAR(r.investment, 0.1620, 1e-4);
  EXPECT_NEAR(r.upkeep, 0.0097, 1e-4);
  EXPECT_NEAR(r.charging, 0.0870, 1e-4);
  EXPECT_NEAR(r.total(), 0.258649, 1e-5);
  // 1/N = 1/shelf + cycles/rated: 50 cycles a year and 20 years' shelf last 17.14 years.
  for (const auto& [cycles, shelf, years] : {std::tuple{50.0, 10.0, 9.23},
                                             {100.0, 15.0, 12.0},
                                             {250.0, 20.0, 10.91},
                                             {365.0, 10.0, 6.22}}) {
    money::LifetimeCost x = in;
    x.cycles_year = cycles, x.shelf_years = shelf;
    EXPECT_NEAR(money::lifetime_cost(x).years, years, 0.005);
  }
}

// In pieces as in one go; and the published ten years: 20.3 % and 14.9 %.
TEST(Wear, in_pieces_is_that_in_one_go) {
  for (const life::Law law : {life::Law::naumann, life::Law::schimpe, life::Law::wang}) {
    life::Wear pieces(law), whole(law);
    life::Use use = {.time = 3652.5 * units::day,
                     .temperature = base::Temperature::from_C(25.0),
                     .mean_charge = 0.5,
                     .full_cycles = 2922.0,
                     .depth = 0.8,
                     .c_rate = law == life::Law::wang ? 0.5 : 0.25};
    whole.add(use);
    use.time = use.time / 500.0, use.full_cycles /= 500.0;
    for (int i = 0; i < 500; ++i) pieces.add(use);
    EXPECT_NEAR(pieces.loss(), whole.loss(), 1e-12 + 1e-9 * whole.loss());
    if (law == life::Law::naumann) {
      EXPECT_NEAR(whole.loss(), 0.20309, 2e-5);
    }
    if (law == life::Law::schimpe) {
      EXPECT_NEAR(whole.loss(), 0.149, 0.002);
    }
  }
  // Warm years first or last: the same in the end for laws of one root, and less than all warm.
  const auto years = [](std::initializer_list<double> C) {
    life::Wear w(life::Law::naumann);
    for (const double c : C)
      w.add({.time = 365.25 * units::day, .temperature = base::Temperature::from_C(c)});
    return w.loss();
  };
  EXPECT_NEAR(years({10, 30}), years({30, 10}), 1e-15);
  EXPECT_LT(years({10, 30}), years({30, 30}));
  EXPECT_GT(years({10, 30}), years({10, 10}));
}

}  // namespace
