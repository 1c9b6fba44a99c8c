// SPDX-License-Identifier: Apache-2.0
// Voltage read over the leads that carry the current: what the log shows of it, and what it cannot.
#include <cmath>

#include <gtest/gtest.h>

#include "bench/measure.hpp"
#include "cell/model.hpp"

namespace {

namespace units = base::units;

constexpr double capacity_Ah = 230.0, lead_Ohm = 0.0138;  // 0.69 V at 50 A

/// A whole test of one cell by a tester that sees `ohm` more than the cell and stops by what it
/// sees.
logs::Log test_over(double ohm) {
  const cell::Model model = cell::Model::scaled(capacity_Ah * units::Ah);
  const auto warm = base::Temperature::from_C(25.0);
  logs::Log log;
  cell::State state{.charge = 0.3, .v1 = {}, .v2 = {}, .branch = -1.0};
  double s = 0.0;
  const auto seen = [&](double amps) {
    return cell::terminal_voltage(model, state, amps * units::A, warm).in(units::V)-ohm * amps;
  };
  const auto row = [&](double amps, double seconds) {
    state = cell::after(model, state, amps * units::A, seconds * units::s, warm);
    s += seconds;
    log.time_s.push_back(s);
    log.current_A.push_back(amps);
    log.voltage_V.push_back(seen(amps));
  };
  for (int k = 0; k < 20; ++k) row(0.0, 5.0);
  while (seen(-50.0) < 3.65 && state.charge < 1.0) row(-50.0, 5.0);
  for (double amps = 50.0; amps > 6.0 && state.charge < 1.0;) {
    while (amps > 6.0 && seen(-amps) > 3.65) amps *= 0.98;
    row(-amps, 5.0);
  }
  for (int k = 0; k < 200; ++k) row(0.0, 5.0);
  while (seen(50.0) > 2.5 && state.charge > 0.0) row(50.0, 5.0);
  for (int k = 0; k < 100; ++k) row(0.0, 5.0);
  log.voltage_step_V = 1e-4;
  logs::fill_shares(log);
  return log;
}

bool says(const bench::Report& report, findings::Id id) {
  return std::any_of(report.findings.begin(), report.findings.end(),
                     [&](const findings::Finding& f) { return f.id == id; });
}

TEST(TwoWires, are_seen_in_the_logs_own_steps_and_leave_only_bounds) {
  const bench::Report report = bench::measure(test_over(lead_Ohm), {});
  const bench::Measures& m = report.measures;
  ASSERT_TRUE(m.leads_mOhm.has_value());
  EXPECT_NEAR(m.leads_mOhm->value, 13.8, 2.0 * m.leads_mOhm->u);
  EXPECT_FALSE(m.discharge_capacity_Ah.has_value());  // so no verdict, and no claim
  ASSERT_TRUE(m.capacity_bounds_Ah && m.likely_capacity_Ah);
  EXPECT_LT((*m.capacity_bounds_Ah)[0], capacity_Ah);
  EXPECT_LE((*m.likely_capacity_Ah)[0], capacity_Ah);
  EXPECT_GE((*m.likely_capacity_Ah)[1], 0.985 * capacity_Ah);
  EXPECT_FALSE(m.resistance.has_value());  // it would be the leads'
  EXPECT_TRUE(says(report, findings::Id::two_wire));
}

TEST(TwoWires, that_were_stated_give_the_bound_instead_of_nothing) {
  bench::Tester stated;
  stated.wires = 2;
  stated.lead_mOhm = lead_Ohm * 1e3;
  const bench::Report report = bench::measure(test_over(lead_Ohm), stated);
  EXPECT_FALSE(report.measures.leads_mOhm.has_value());
  ASSERT_TRUE(report.measures.likely_capacity_Ah.has_value());
  EXPECT_LE((*report.measures.likely_capacity_Ah)[0], capacity_Ah);
  EXPECT_TRUE(says(report, findings::Id::leads_hide_the_end));
  EXPECT_FALSE(says(report, findings::Id::no_capacity));
}

TEST(TwoWires, are_not_suspected_where_there_are_four) {
  const bench::Report report = bench::measure(test_over(0.0), {});
  EXPECT_FALSE(report.measures.leads_mOhm.has_value());
  ASSERT_TRUE(report.measures.discharge_capacity_Ah.has_value());
  EXPECT_FALSE(says(report, findings::Id::two_wire));
}

}  // namespace
