// SPDX-License-Identifier: Apache-2.0
// The year at the house against hand-checked cases, an open year of a household, and a second
// solver.
#include <cmath>
#include <cstdlib>

#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/csv_table.hpp"
#include "base/input_error.hpp"
#include "base/json.hpp"
#include "site/dispatch.hpp"
#include "site/optimum.hpp"
#include "tests/support/support.hpp"

namespace {

using site::Bound;
using site::Prices;
using site::Rules;
using site::Store;
using site::Year;

Year small(std::vector<double> load, std::vector<double> solar) {
  Year y;
  y.step_h = 1.0;
  y.load_kW = std::move(load);
  y.solar_kW = std::move(solar);
  return y;
}
Store lossless(double kWh, double kW) {
  Store s;
  s.usable_kWh = kWh, s.charge_kW = s.discharge_kW = kW;
  s.charging = site::Loss::charging(1.0), s.discharging = site::Loss::discharging(1.0);
  return s;
}

// Six cases small enough to check by hand.
TEST(Dispatch, does_what_a_pencil_does) {
  // D1: 3 kWh, 2 kW, 0.95 each way: E 0, 1.9, 2.85, 0.744737.
  Store s = lossless(3.0, 2.0);
  s.charging = site::Loss::charging(0.95), s.discharging = site::Loss::discharging(0.95);
  std::vector<double> E;
  auto o = site::dispatch(small({1, 1, 1, 2}, {0, 4, 2, 0}), nullptr, s, {}, &E);
  EXPECT_NEAR(E[1], 1.9, 1e-12);
  EXPECT_NEAR(E[2], 2.85, 1e-12);
  EXPECT_NEAR(E[3], 0.744737, 1e-6);
  EXPECT_NEAR(o.import_kWh, 1.0, 1e-12);
  EXPECT_NEAR(o.export_kWh, 1.0, 1e-12);
  EXPECT_NEAR(o.self_consumption(), 0.83333, 1e-5);
  EXPECT_NEAR(o.self_sufficiency(), 0.8, 1e-12);
  // D2: eight cheap hours, sixteen dear ones; the same every day.
  Year flat;
  flat.step_h = 1.0;
  flat.load_kW.assign(24 * 40, 0.5), flat.solar_kW.assign(24 * 40, 0.0);
  const Prices p = site::prices_of(
      flat,
      {{.name = "dear", .price = 0.30}, {.name = "cheap", .price = 0.10, .from_h = 0, .to_h = 8}},
      0.0);
  Store t = lossless(5.0, 2.5);
  t.charging = site::Loss::charging(std::sqrt(0.9));
  t.discharging = site::Loss::discharging(std::sqrt(0.9));
  const Rules rules = site::shifting(flat, p, t, 0.0);
  EXPECT_NEAR(rules.worth_price / 0.10, 1.1111, 1e-4);
  o = site::dispatch(flat, &p, t, rules);
  EXPECT_NEAR(o.discharge_kWh / 40.0, 4.743416, 1e-6);
  EXPECT_NEAR(o.charge_kWh / 40.0, 5.270463, 1e-6);
  const double without = site::dispatch(flat, &p, lossless(0.0, 0.0), {}).cost;
  EXPECT_NEAR((without - o.cost) / 40.0, 0.895979, 1e-6);
  // Where the dear price is not dear enough, it stands still.
  const Prices close = site::prices_of(
      flat, {{.name = "dear", .price = 0.11}, {.name = "cheap", .price = 0.10, .to_h = 8}}, 0.0);
  EXPECT_EQ(site::dispatch(flat, &close, t, site::shifting(flat, close, t, 0.0)).discharge_kWh,
            0.0);
  // D3: the lowest limit of import.
  const Year peaks = small({1, 1, 6, 5, 1, 1}, {0, 0, 0, 0, 0, 0});
  EXPECT_NEAR(site::lowest_limit_kW(peaks, lossless(4.0, 2.5)), 3.5, 2e-3);
  Store lossy = lossless(4.0, 3.0);
  lossy.discharging = site::Loss::discharging(0.95);
  EXPECT_NEAR(site::lowest_limit_kW(peaks, lossy), 3.6, 2e-3);
  EXPECT_NEAR(site::lowest_limit_kW(peaks, lossless(4.0, 2.0)), 4.0, 2e-3);
  // D4 and D5: what foresight is worth.
  const Year morning = small({0, 0, 2}, {3, 3, 0});
  Prices dear = site::prices_of(morning, {{.name = "", .price = 0.30}}, 0.02);
  dear.sell[0] = 0.15;
  EXPECT_NEAR(site::dispatch(morning, &dear, lossless(2.0, 5.0), {}).cost, -0.21, 1e-12);
  EXPECT_NEAR(site::optimum(morning, dear, lossless(2.0, 5.0)).cost, -0.47, 1e-9);
  const Year noon = small({1, 1, 1}, {3, 6, 3});
  Rules capped;
  capped.export_kW = 2.0;
  EXPECT_NEAR(site::dispatch(noon, nullptr, lossless(3.0, 3.0), capped).curtailed_kWh, 2.0, 1e-12);
  // With foresight the store waits for the noon that the grid does not take: all six go out.
  site::BoundOptions cap;
  cap.export_kW = 2.0;
  const Prices equal = site::prices_of(noon, {{.name = "", .price = 0.30}}, 0.10);
  EXPECT_NEAR(site::optimum(noon, equal, lossless(3.0, 3.0), cap).export_kWh, 6.0, 1e-9);
  EXPECT_NEAR(site::dispatch(noon, nullptr, lossless(3.0, 3.0), capped).export_kWh, 4.0, 1e-12);
  // D6: a third of ten kilowatt-hours carries half a kilowatt for 5.7 h.
  Year outage;
  outage.step_h = 0.1;
  outage.load_kW.assign(1000, 0.5), outage.solar_kW.assign(1000, 0.0);
  Store held = lossless(10.0, 5.0);
  held.discharging = site::Loss::discharging(0.95);
  EXPECT_NEAR(site::autonomy(outage, held, 3.0, false).worst_h, 5.7, 0.11);
}

// [SchmidtSauer1996] form through 0.92, 0.96, 0.95: k0 0.00750858, k1 0.00817601, k2 0.03694699.
TEST(Losses, go_through_three_points_of_a_sheet) {
  const site::Loss l = site::loss_through(0.92, 0.96, 0.95);
  EXPECT_NEAR(l.k0, 0.00750858, 1e-8);
  EXPECT_NEAR(l.k1, 0.00817601, 1e-8);
  EXPECT_NEAR(l.k2, 0.03694699, 1e-8);
  const auto at = [&](double p) { return p / (p + l.k0 + l.k1 * p + l.k2 * p * p); };
  EXPECT_NEAR(at(0.05), 0.86192, 1e-5);
  EXPECT_NEAR(at(0.2), 0.94957, 1e-5);
  EXPECT_NEAR(at(0.75), 0.95612, 1e-5);
}

/// An open year of one household, half-hours; four times its panels.
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

Prices three_bands(const Year& y) {
  return site::prices_of(
      y,
      {{.name = "day", .price = 0.25},
       {.name = "night", .price = 0.15, .from_h = 22, .to_h = 7},
       {.name = "peak", .price = 0.45, .from_h = 14, .to_h = 20, .weekdays = 0x1F}},
      0.06);
}

TEST(OpenYear, gives_the_published_household_its_import_and_its_bill) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const Year y = household(data);
  const auto reference = base::Json::parse(support::read(data / "reference.json"));
  ASSERT_EQ(y.steps(), reference["household12"]["rows"].get<std::size_t>());
  for (const auto& [size, r] : reference["greedy_selfuse_pv_x4"]["results"].items()) {
    Store s;
    s.usable_kWh = std::atof(size.c_str());
    const auto o = site::dispatch(y, nullptr, s, {});
    const auto near = [&](double is, const char* key, double by) {
      EXPECT_NEAR(is, r[key].get<double>(), by) << size << ' ' << key;
    };
    near(o.import_kWh, "import_kWh", 1e-3);
    near(o.export_kWh, "export_kWh", 1e-3);
    near(o.charge_kWh, "charge_ac_kWh", 1e-3);
    near(o.discharge_kWh, "discharge_ac_kWh", 1e-3);
    near(o.end_kWh, "end_kWh", 1e-3);
    near(o.self_sufficiency(), "self_sufficiency", 1e-5);
    near(o.self_consumption(), "self_consumption", 1e-5);
    near(o.full_cycles, "equivalent_full_cycles", 6e-3);
  }
  const Prices p = three_bands(y);
  const auto& bill = reference["tou_bill_pv_x4"]["results"];
  for (const double kWh : {0.0, 5.0}) {
    Store s;
    s.usable_kWh = kWh;
    const std::string key = fmt::format("{:g}_kWh", kWh);
    EXPECT_NEAR(site::dispatch(y, &p, s, {}).cost, bill[key]["greedy_cost"].get<double>(), 1e-3);
    if (kWh == 0.0) continue;
    site::BoundOptions o;
    const Bound grid = site::optimum(y, p, s, o);
    ASSERT_EQ(grid.status, Bound::Status::optimal);
    EXPECT_NEAR(grid.cost, bill[key]["lp_perfect_foresight_grid_charging"]["cost"].get<double>(),
                1e-3);
    o.from_grid = false;
    EXPECT_NEAR(site::optimum(y, p, s, o).cost,
                bill[key]["lp_perfect_foresight_solar_charging_only"]["cost"].get<double>(), 1e-3);
    // No rule beats it, and shifting is worth more than self-use alone.
    const double shifted = site::dispatch(y, &p, s, site::shifting(y, p, s, 0.0)).cost;
    EXPECT_GE(shifted, grid.cost - 1e-6);
  }
  // An outage without sun, from a full store: the worst start lasts 3.5 h, the median 14 h.
  Store full;
  full.usable_kWh = 10.0;
  const auto a = site::autonomy(y, full, 10.0, false);
  EXPECT_NEAR(a.worst_h, reference["outage_10kWh_full_eta0.95_no_pv"]["whole_steps_h"], 1e-9);
  EXPECT_NEAR(a.median_h, reference["outage_10kWh_full_eta0.95_no_pv"]["median_h"], 0.51);
  const site::Clock c = site::clock_of(y, a.worst_step);
  EXPECT_EQ(fmt::format("{:02}-{:02} {:g}", c.month, c.day, c.hour), "11-19 9.5");
}

TEST(OpenYear, comes_out_alike_for_one_store_and_for_eight_at_once) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const Year y = household(data);
  site::Lanes lanes{};
  for (std::size_t l = 0; l < 8; ++l) {
    lanes.load[l] = 0.8 + 0.1 * double(l), lanes.solar[l] = 1.3 - 0.1 * double(l);
    lanes.usable_kWh[l] = 2.0 + 2.0 * double(l);
    lanes.charge_kW[l] = 2.0 + 0.5 * double(l), lanes.discharge_kW[l] = 3.0;
    lanes.charging[l] = 0.94, lanes.discharging[l] = 0.96;
  }
  site::self_use(y, lanes);
  for (std::size_t l = 0; l < 8; ++l) {
    Year one = y;
    for (double& x : one.load_kW) x *= lanes.load[l];
    for (double& x : one.solar_kW) x *= lanes.solar[l];
    Store s;
    s.usable_kWh = lanes.usable_kWh[l];
    s.charge_kW = lanes.charge_kW[l], s.discharge_kW = lanes.discharge_kW[l];
    s.charging = site::Loss::charging(0.94), s.discharging = site::Loss::discharging(0.96);
    const auto o = site::dispatch(one, nullptr, s, {});
    EXPECT_NEAR(lanes.import_kWh[l], o.import_kWh, 1e-6 * o.import_kWh);
    EXPECT_NEAR(lanes.export_kWh[l], o.export_kWh, 1e-6 * o.import_kWh);
    EXPECT_NEAR(lanes.discharge_kWh[l], o.discharge_kWh, 1e-6 * o.import_kWh);
  }
}

TEST(Tariff, refuses_an_hour_without_a_price) {
  Year y;
  y.step_h = 1.0;
  y.load_kW.assign(48, 1.0), y.solar_kW.assign(48, 0.0);
  EXPECT_THROW(
      (void)site::prices_of(y, {{.name = "day", .price = 0.3, .from_h = 6, .to_h = 22}}, 0),
      base::InputError);
  // A later band overrides: overlaps are no riddle.
  const Prices p = site::prices_of(
      y, {{.name = "all", .price = 0.3}, {.name = "night", .price = 0.1, .from_h = 22, .to_h = 6}},
      0);
  EXPECT_EQ(p.buy[23], 0.1);
  EXPECT_EQ(p.buy[5], 0.1);
  EXPECT_EQ(p.buy[6], 0.3);
}

}  // namespace
