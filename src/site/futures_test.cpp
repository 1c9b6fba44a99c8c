// SPDX-License-Identifier: Apache-2.0
#include "site/futures.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>

#include "base/small_random.hpp"

namespace {

using site::FutureBands;
using site::Futures;
using site::Life;
using site::Prices;
using site::Risk;
using site::Rules;
using site::Store;
using site::Year;

/// An invented year in hours: sun by season and cloud, an evening's load.
Year house() {
  Year y;
  y.step_h = 1.0;
  y.first_day = 20089;  // 2025-01-01
  base::SmallRandom random(3);
  double cloud = 1.0;
  for (int i = 0; i < 24 * 365; ++i) {
    const int h = i % 24;
    if (h == 0) cloud = 0.2 + 0.8 * random.uniform();
    const double season = 0.6 - 0.4 * std::cos(2.0 * M_PI * (i / 24 + 10) / 365.0);
    const double up = std::max(0.0, std::sin((h - 6) * M_PI / 12.0));
    y.solar_kW.push_back(5.0 * season * up * cloud);
    y.load_kW.push_back((h >= 17 && h < 22 ? 1.2 : 0.3) + 0.4 * random.uniform());
  }
  return y;
}
Prices bands(const Year& y) {
  return site::prices_of(
      y, {{.name = "day", .price = 0.34}, {.name = "night", .price = 0.20, .to_h = 6}}, 0.07);
}
Life life() {
  Life l;
  l.nominal_kWh = 10.0;
  l.cells_C.fill(18.0);
  l.years = 15;
  return l;
}
Store store_of(const Life& l) {
  Store s;
  s.usable_kWh = l.usable_kWh(), s.charge_kW = s.discharge_kW = 3.0, s.standby_kW = 0.02;
  return s;
}

TEST(SavingSurface, is_within_two_percent_of_a_simulated_year) {
  const Year y = house();
  Prices p = bands(y);
  p.demand_kW_month = 3.0;
  const Life l = life();
  const Store s = store_of(l);
  for (const Rules::Kind kind : {Rules::Kind::self_use, Rules::Kind::shift, Rules::Kind::follow}) {
    Rules rules;
    rules.kind = kind;
    const site::SavingSurface surface(y, p, s, rules, l);
    const double whole = surface.at(1.0, 1.0, 1.0).whole();
    for (const auto& [capacity, load, sun] :
         {std::array{0.93, 1.1, 0.95}, std::array{0.78, 0.9, 1.08}, std::array{0.6, 1.2, 1.0}}) {
      Year other = y;
      for (double& kW : other.load_kW) kW *= load;
      for (double& kW : other.solar_kW) kW *= sun;
      Store aged = s;
      aged.usable_kWh = l.usable_kWh(capacity);
      const double is = site::cost_without(other, p) -
                        site::dispatch(other, &p, aged, site::remade(rules, other, p, aged)).cost;
      EXPECT_NEAR(surface.at(capacity, load, sun).whole(), is, 0.02 * whole)
          << site::name(kind) << ' ' << capacity;
    }
  }
}

TEST(Futures, without_any_risk_are_the_plan_by_hand) {
  const Year y = house();
  const Prices p = bands(y);
  const Life l = life();
  const Store s = store_of(l);
  const site::SavingSurface surface(y, p, s, {}, l);
  const life::Band band(site::conditions_of(y, p, s, {}, l), {});
  Futures f;
  f.count = 3, f.capital = 2500.0, f.upkeep = 20.0, f.rate = 0.03, f.end_value = 100.0;
  f.left_out.assign(std::begin(site::all_risks), std::end(site::all_risks));
  const FutureBands bands = site::play_futures(surface, band, l, f);
  double value = -2500.0, discount = 1.0;
  for (int year = 0; year < l.years; ++year) {
    discount /= 1.03;
    value += (surface.at(band.at(year).median, 1.0, 1.0).whole() - 20.0) * discount;
  }
  value += 100.0 * discount;
  EXPECT_NEAR(bands.value.middle, value, 1e-9);
  EXPECT_EQ(bands.value.low, bands.value.high);
  EXPECT_EQ(bands.value_as_planned, bands.value.middle);
}

TEST(Futures, are_the_same_bits_for_any_number_of_threads) {
  const Year y = house();
  const Prices p = bands(y);
  const Life l = life();
  const Store s = store_of(l);
  const site::SavingSurface surface(y, p, s, {}, l);
  const life::Band band(site::conditions_of(y, p, s, {}, l), {});
  Futures f;
  f.count = 1000, f.capital = 2500.0;
  std::vector<double> seen;
  for (const std::size_t threads : {1U, 2U, 8U}) {
    f.threads = threads;
    const FutureBands b = site::play_futures(surface, band, l, f);
    std::vector<double> now = {b.pays, b.value.low, b.value.middle, b.value.high, b.end_year.low};
    for (const site::Band& x : b.saving) now.insert(now.end(), {x.low, x.middle, x.high});
    if (!seen.empty()) {
      EXPECT_EQ(now, seen) << threads;
    }
    seen = now;
  }
}

TEST(Futures, meet_the_same_chance_whatever_is_changed) {
  const Year y = house();
  const Prices p = bands(y);
  const Life l = life();
  const Store s = store_of(l);
  const site::SavingSurface surface(y, p, s, {}, l);
  const life::Band band(site::conditions_of(y, p, s, {}, l), {});
  Futures f;
  f.count = 500, f.capital = 2500.0, f.failure_share = 0.0;
  const FutureBands before = site::play_futures(surface, band, l, f);
  f.capital += 10.0;
  const FutureBands after = site::play_futures(surface, band, l, f);
  EXPECT_NEAR(before.value.low - after.value.low, 10.0, 1e-9);
  EXPECT_NEAR(before.value.middle - after.value.middle, 10.0, 1e-9);
  EXPECT_NEAR(before.value.high - after.value.high, 10.0, 1e-9);
}

TEST(Futures, say_what_each_risk_takes_and_what_was_assumed) {
  const Year y = house();
  const Prices p = bands(y);
  const Life l = life();
  Futures f;
  f.count = 2000, f.capital = 2600.0, f.each_risk = true;
  const FutureBands b = site::play_futures(y, p, store_of(l), {}, l, f);
  ASSERT_EQ(b.risks.size(), std::size(site::all_risks));
  for (const site::RiskTaken& r : b.risks) {
    const bool takes = r.risk == Risk::electronics || r.risk == Risk::tariff ||
                       r.risk == Risk::failure || r.risk == Risk::yield;
    if (takes) {
      EXPECT_LE(r.value_alone, b.value_as_planned + 1e-9) << site::words(r.risk);
      EXPECT_GE(r.value_without, b.value.middle - 1e-9) << site::words(r.risk);
      EXPECT_GE(r.pays_without, b.pays - 0.01) << site::words(r.risk);
    }
  }
  // A new inverter after some twelve of fifteen years weighs most.
  const auto electronics = std::find_if(b.risks.begin(), b.risks.end(),
                                        [](const auto& r) { return r.risk == Risk::electronics; });
  EXPECT_GT(electronics->value_without - b.value.middle, 300.0);
  EXPECT_LT(b.value.low, b.value.middle);
  EXPECT_LT(b.value.middle, b.value.high);
  ASSERT_GE(b.assumptions.size(), std::size(site::all_risks));
  ASSERT_EQ(b.ageing.size(), std::size_t(l.years) + 1);
  EXPECT_EQ(b.ageing[0].low, 1.0);
  EXPECT_EQ(b.odds_below_end[0], 0.0);
  for (std::size_t y = 1; y < b.ageing.size(); ++y) {
    EXPECT_LT(b.ageing[y].middle, b.ageing[y - 1].middle);
    EXPECT_GE(b.odds_below_end[y], b.odds_below_end[y - 1]);
  }
  // Those that live on are the better ones.
  EXPECT_GE(b.capacity.back().low, b.ageing[b.capacity.size() - 1].low);
  f.left_out = {Risk::tariff}, f.each_risk = false;
  const FutureBands less = site::play_futures(y, p, store_of(l), {}, l, f);
  EXPECT_GT(less.value.middle, b.value.middle);
  bool said = false;
  for (const site::Assumption& a : less.assumptions)
    said = said || (a.what == site::words(Risk::tariff) && a.value == "left out");
  EXPECT_TRUE(said);
}

TEST(Futures, play_the_chosen_rule_with_its_charge_for_peaks) {
  const Year y = house();
  Prices p = bands(y);
  const Life l = life();
  const Store s = store_of(l);
  Futures f;
  f.count = 400, f.capital = 2500.0;
  Rules follow;
  follow.kind = Rules::Kind::follow;
  const double plain = site::play_futures(y, p, s, {}, l, f).value.middle,
               followed = site::play_futures(y, p, s, follow, l, f).value.middle;
  EXPECT_GT(followed, plain + 100.0);
  p.demand_kW_month = 8.0;
  Rules shave;
  shave.kind = Rules::Kind::shave;
  const FutureBands shaved = site::play_futures(y, p, s, shave, l, f);
  Prices unpaid = p;
  unpaid.demand_kW_month = 0.0;
  EXPECT_GT(shaved.saving[0].middle,
            site::play_futures(y, unpaid, s, shave, l, f).saving[0].middle + 20.0);
}

TEST(Futures, of_a_house_without_load_or_sun_lose_what_was_spent) {
  Year y = house();
  const Prices p = bands(y);
  const Life l = life();
  Futures f;
  f.count = 100, f.capital = 2500.0;
  Year dark = y;
  std::fill(dark.solar_kW.begin(), dark.solar_kW.end(), 0.0);
  EXPECT_EQ(site::play_futures(dark, p, store_of(l), {}, l, f).pays, 0.0);
  std::fill(y.load_kW.begin(), y.load_kW.end(), 0.0);
  const FutureBands none = site::play_futures(y, p, store_of(l), {}, l, f);
  EXPECT_EQ(none.pays, 0.0);
  EXPECT_LT(none.value.high, -2000.0);
}

TEST(Futures, stop_when_told) {
  const Year y = house();
  const Life l = life();
  Futures f;
  EXPECT_TRUE(
      site::play_futures(y, bands(y), store_of(l), {}, l, f, [](double) { return false; }).stopped);
}

}  // namespace
