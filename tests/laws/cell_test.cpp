// SPDX-License-Identifier: Apache-2.0
// Laws that the cell model must keep at every state.
#include <cmath>

#include <gtest/gtest.h>

#include "cell/chemistry.hpp"
#include "cell/model.hpp"

namespace {

namespace units = base::units;
const base::Temperature warm = base::Temperature::from_C(25.0);

TEST(CellModel, does_not_depend_on_how_a_constant_current_is_cut_into_steps) {
  const cell::Model m = cell::Model::scaled(230.0 * units::Ah);
  for (const double amps : {-100.0, -20.0, 5.0, 46.0, 200.0}) {
    cell::State one{.charge = 0.6, .v1 = {}, .v2 = {}, .branch = 0.0}, many = one;
    one = cell::after(m, one, amps * units::A, 60.0 * units::s, warm);
    for (int i = 0; i < 60; ++i) many = cell::after(m, many, amps * units::A, 1.0 * units::s, warm);
    EXPECT_NEAR(one.charge, many.charge, 1e-12);
    EXPECT_NEAR(one.v1.si(), many.v1.si(), 1e-12);
    EXPECT_NEAR(one.v2.si(), many.v2.si(), 1e-12);
    EXPECT_NEAR(one.branch, many.branch, 1e-12);
  }
}

TEST(CellModel, gives_back_less_energy_than_it_took) {
  const cell::Model m = cell::Model::scaled(100.0 * units::Ah);
  cell::State s{.charge = 0.2, .v1 = {}, .v2 = {}, .branch = -1.0};
  double in_J = 0.0, out_J = 0.0;
  for (int i = 0; i < 7200; ++i) {
    in_J += cell::terminal_voltage(m, s, -20.0 * units::A, warm).si() * 20.0;
    s = cell::after(m, s, -20.0 * units::A, 1.0 * units::s, warm);
  }
  for (int i = 0; i < 7200; ++i) {
    out_J += cell::terminal_voltage(m, s, 20.0 * units::A, warm).si() * 20.0;
    s = cell::after(m, s, 20.0 * units::A, 1.0 * units::s, warm);
  }
  EXPECT_NEAR(s.charge, 0.2, 1e-9);
  EXPECT_LT(out_J, in_J);
  EXPECT_GT(out_J, 0.93 * in_J);  // 0.96 to 0.98 is published for LFP at 0.2 C
}

TEST(CellModel, sags_by_the_dc_resistance_that_it_was_scaled_to) {
  const cell::Model m = cell::Model::scaled(230.0 * units::Ah, 0.5 * units::mOhm);
  cell::State s{.charge = 0.5, .v1 = {}, .v2 = {}, .branch = 0.0};
  const base::Volts before = cell::terminal_voltage(m, s, {}, warm);
  base::Volts after_10s;
  for (int i = 0; i < 10; ++i) s = cell::after(m, s, 46.0 * units::A, 1.0 * units::s, warm);
  s.branch = 0.0;
  after_10s = cell::terminal_voltage(m, s, 46.0 * units::A, warm);
  EXPECT_NEAR(((before - after_10s) / (46.0 * units::A)).in(units::mOhm), 0.5, 0.01);
}

TEST(OpenCircuitVoltage, rises_with_charge_everywhere) {
  for (double s = 0.0; s < 1.0; s += 0.001)
    EXPECT_LT(cell::open_circuit_voltage(s), cell::open_circuit_voltage(s + 0.001)) << s;
}

TEST(ChargeFromRest, holds_the_charge_that_gave_the_voltage) {
  for (double s = 0.0; s <= 1.0; s += 0.01) {
    const auto span = cell::charge_from_rest(cell::open_circuit_voltage(s), 2.0 * units::mV);
    ASSERT_TRUE(span.has_value()) << s;
    EXPECT_LE(span->low, s + 1e-9);
    EXPECT_GE(span->high, s - 1e-9);
  }
}

}  // namespace
