// SPDX-License-Identifier: Apache-2.0
#include "commission/settings.hpp"

#include <functional>

#include <gtest/gtest.h>

namespace {

namespace units = base::units;

std::string found(const std::function<void(layout::Limits&, layout::Layout&)>& change) {
  layout::Limits limits;
  layout::Layout shape;
  change(limits, shape);
  std::string ids;
  for (const findings::Finding& f : commission::check_settings({}, shape, limits, 20.0 * units::mV))
    ids += std::string(findings::word(f.id)) + " ";
  return ids;
}

TEST(CheckSettings, find_nothing_in_the_defaults) {
  EXPECT_EQ(found([](auto&, auto&) {}), "");
}

TEST(CheckSettings, find_each_layer_that_would_act_out_of_order) {
  EXPECT_NE(found([](auto& l, auto&) {
              l.charger.per_cell = 3.65 * units::V;
            }).find(findings::word(findings::Id::charger_above_trip)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.inverter.stop_per_cell = 2.5 * units::V;
            }).find(findings::word(findings::Id::inverter_stop_below_bms)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.bms.cell_high = 3.8 * units::V;
            }).find(findings::word(findings::Id::trip_above_sheet_high)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.bms.cell_low = 2.2 * units::V;
            }).find(findings::word(findings::Id::trip_below_sheet_low)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.bms.charge_stop = base::Temperature::from_C(-5.0);
            }).find(findings::word(findings::Id::charging_in_the_cold)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.balancer.start = 3.30 * units::V;
            }).find(findings::word(findings::Id::balancer_below_knee)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.charger.float_per_cell = 3.45 * units::V;
            }).find(findings::word(findings::Id::float_too_high)),
            std::string::npos);
  EXPECT_NE(found([](auto& l, auto&) {
              l.inverter.restart_per_cell = 3.01 * units::V;
            }).find(findings::word(findings::Id::restart_within_rebound)),
            std::string::npos);
  EXPECT_NE(found([](auto&, auto& s) {
              s.series = 17;
            }).find(findings::word(findings::Id::above_60_volts)),
            std::string::npos);  // 62.05 V; sixteen stay below
}

TEST(SettingsSheet, shows_sixteen_cells_worth_of_volts_at_the_bus) {
  const auto lines = commission::settings_sheet(
      {}, {}, {}, 230.0 * units::Ah, {80.0 * units::A, 160.0 * units::A, 192.0 * units::A});
  ASSERT_FALSE(lines.empty());
  EXPECT_EQ(lines.front().value, "56.0 V");
  EXPECT_EQ(lines.front().per_cell, "3.50 V");
  for (const auto& line : lines)
    EXPECT_FALSE(line.reason.empty() || line.basis.empty()) << line.name;
}

// The cells would take 115 A of charge; a pack's 80 A fuse carries 64 A for ever, so that is what
// is set.
TEST(SettingsSheet, never_asks_for_more_than_fuses_and_cable_carry) {
  for (const auto& line : commission::settings_sheet(
           {}, {}, {}, 230.0 * units::Ah, {80.0 * units::A, 160.0 * units::A, 192.0 * units::A})) {
    if (line.name == "charge current" || line.name == "discharge current" ||
        line.name == "current, at most") {
      EXPECT_EQ(line.value, "64 A") << line.name;
    }
  }
  for (const auto& line : commission::settings_sheet(
           {}, {}, {}, 230.0 * units::Ah, {400.0 * units::A, 400.0 * units::A, 400.0 * units::A})) {
    if (line.name == "charge current") {
      EXPECT_EQ(line.value, "115 A");
    }
    if (line.name == "discharge current") {
      EXPECT_EQ(line.value, "230 A");
    }
  }
}

}  // namespace
