// SPDX-License-Identifier: Apache-2.0
// Wiring against published tables and worked examples, and a precharge against a circuit simulator.
#include <cmath>
#include <cstdlib>

#include <gtest/gtest.h>

#include "commission/storage.hpp"
#include "tests/support/support.hpp"
#include "wiring/busbar.hpp"
#include "wiring/conductor.hpp"
#include "wiring/fault.hpp"
#include "wiring/fuse.hpp"

namespace {

namespace units = base::units;

// The gates are from memory; their own rule is published: gG fuses 1.6 to 1 apart discriminate,
// which is that no fuse has melted at a current at which the smaller one of a tenth of a second
// still may: every upper gate is the lower one of the rating two steps on. [IEC60269-1]
TEST(FuseGates, are_those_of_the_rating_two_steps_on) {
  const auto gates = wiring::fuse_gates();
  for (std::size_t i = 0; i + 2 < gates.size(); ++i) {
    EXPECT_DOUBLE_EQ(gates[i].opens_01s_A, gates[i + 2].carries_01s_A) << gates[i].rated_A;
    EXPECT_TRUE(wiring::selective(gates[i].rated_A * units::A, gates[i + 2].rated_A * units::A));
    EXPECT_FALSE(wiring::selective(gates[i].rated_A * units::A, gates[i + 1].rated_A * units::A));
  }
  for (const auto& g : gates) {
    EXPECT_LT(1.6 * g.rated_A, g.carries_10s_A * 1.05);
    EXPECT_LT(g.carries_10s_A, g.opens_5s_A);
    EXPECT_LT(g.opens_5s_A, g.carries_01s_A * 1.02);
    EXPECT_LT(g.carries_01s_A, g.opens_01s_A);
  }
}

TEST(FuseGates, give_times_that_fall_as_the_current_rises) {
  for (const auto& g : wiring::fuse_gates()) {
    double earliest = 1e9, latest = 1e9;
    for (double I = 1.7 * g.rated_A; I < 200.0 * g.rated_A; I *= 1.05) {
      const auto t = wiring::opening_time(g.rated_A * units::A, I * units::A);
      ASSERT_TRUE(t && t->latest_s);
      EXPECT_LE(t->earliest_s, earliest);
      EXPECT_LE(*t->latest_s, latest * (1.0 + 1e-12));
      EXPECT_LE(t->earliest_s, *t->latest_s);
      earliest = t->earliest_s, latest = *t->latest_s;
    }
    EXPECT_NEAR(*wiring::opening_time(g.rated_A * units::A, g.opens_5s_A * units::A)->latest_s, 5.0,
                1e-9);
    EXPECT_NEAR(*wiring::opening_time(g.rated_A * units::A, g.opens_01s_A * units::A)->latest_s,
                0.1, 1e-9);
  }
  EXPECT_FALSE(wiring::opening_time(100.0 * units::A, 150.0 * units::A)->latest_s);
  EXPECT_FALSE(wiring::opening_time(110.0 * units::A, 150.0 * units::A));
}

// [CDA-bars] 1/8 × 1 in at 30 K: 270 A, between bare and painted of 25 × 3; 3/16 × 2 in at 30 K:
// 610 A, between those of 50 × 5. Their resistance: 216 and (1/4 × 2 in) 54.1 µΩ/m at 99 % IACS.
TEST(Busbars, of_two_tables_agree) {
  const auto of = [](double w, double t) {
    for (const wiring::Bar& b : wiring::bars())
      if (b.width_mm == w && b.thickness_mm == t) return b;
    return wiring::Bar{};
  };
  EXPECT_LT(of(25, 3).bare_A, 270.0);
  EXPECT_GT(of(25, 3).painted_A, 270.0);
  EXPECT_LT(of(50, 5).bare_A, 610.0);
  EXPECT_GT(of(50, 5).painted_A, 610.0);
  const auto uOhm_m = [](double w, double t) {
    return wiring::bar_resistance(w, t, base::Temperature::from_C(20.0)).in(units::mOhm_per_m)*1e3 /
           0.99;
  };
  EXPECT_NEAR(uOhm_m(25.4, 3.175), 216.0, 0.5);
  EXPECT_NEAR(uOhm_m(50.8, 6.35), 54.1, 0.2);
  // k2 of [DIN43671]: 65 °C bar in 35 °C air is the reference; hotter bars carry more.
  const auto at = [](double bar, double air) {
    return wiring::bar_ampacity(30, 5, base::Temperature::from_C(bar),
                                base::Temperature::from_C(air))
        ->in(units::A);
  };
  EXPECT_DOUBLE_EQ(at(65, 35), 379.0);
  EXPECT_DOUBLE_EQ(at(85, 45), 379.0 * 1.15);
  EXPECT_DOUBLE_EQ(at(50, 50), 379.0 * 0.30);
  EXPECT_FALSE(
      wiring::bar_ampacity(31, 5, base::Temperature::from_C(65), base::Temperature::from_C(35)));
  EXPECT_FALSE(
      wiring::bar_ampacity(30, 5, base::Temperature::from_C(95), base::Temperature::from_C(35)));
}

// Handbook chain: XLPE, two touching, 70 mm², 40 °C, two circuits on a tray: 310 × 0.91 × 0.88 =
// 248 A, so In at most 225.7 A. 12 kA for 0.2 s at k 143: 37.5 mm². A 35 mm² PVC cable survives
// 10 kA for 0.162 s. [IEC60364-5-52] [IEC60364-4-43]
TEST(Chain, of_a_handbook_comes_out) {
  const auto a = wiring::ampacity(wiring::Insulation::xlpe, wiring::Method::f, 70.0,
                                  base::Temperature::from_C(40.0), 2, wiring::Grouping::tray);
  EXPECT_NEAR(a->current.in(units::A), 248.2, 0.1);
  EXPECT_NEAR(a->current.in(units::A) / 1.10, 225.7, 0.1);
  EXPECT_NEAR(wiring::adiabatic_area(12.0e3 * units::A, 0.2 * units::s, 143.0).in(units::mm2),
              37.53, 0.01);
  const double k = wiring::k_factor(wiring::Material::copper, base::Temperature::from_C(70.0),
                                    base::Temperature::from_C(160.0));
  EXPECT_NEAR(k * k * 35.0 * 35.0 / 1e8, 0.162, 0.001);
}

// 16 cells of 3.33 V over 7.066 mΩ: 7540 A; four such packs 30.2 kA, one pack's own lead 22.6 kA.
TEST(Chain, of_fault_currents_comes_out) {
  EXPECT_NEAR(wiring::fault_current(53.28 * units::V, 7.066 * units::mOhm, 1).in(units::A), 7540.0,
              1.0);
  EXPECT_NEAR(wiring::fault_current(53.28 * units::V, 7.066 * units::mOhm, 4).in(units::A), 30.16e3,
              10.0);
  EXPECT_NEAR(wiring::fault_current(53.28 * units::V, 7.066 * units::mOhm,
                                    wiring::packs_met_by_pack_fuse(4))
                  .in(units::A),
              22.62e3, 10.0);
}

// 20 mA drain half of 230 Ah in about eight months; 0.5 A in under ten days. (Arithmetic.)
TEST(LayUp, lasts_as_the_arithmetic_says) {
  const auto days = [](double amps) {
    return commission::time_to_charge(0.5, 0.0, 230.0 * units::Ah, amps * units::A, 0.0).si() /
           86400.0;
  };
  EXPECT_NEAR(days(0.020), 115.0 / 0.020 / 24.0, 1e-9);
  EXPECT_LT(days(0.5), 10.0);
  EXPECT_NEAR(commission::time_to_charge(0.5, 0.2, 230.0 * units::Ah, {}, 0.02).si() / 86400.0,
              15.0 * 30.44, 1e-6);
}

// The capacitor's voltage while it is filled, against a
// transient of ngspice.
TEST(PrechargeAgainstSimulator, fills_as_the_formula_says) {
  if (std::system("command -v ngspice >/dev/null 2>&1") != 0)
    GTEST_SKIP() << "ngspice is not installed: apt-get install ngspice";
  const support::Folder folder;
  support::write(folder / "net.cir",
                 "* precharge\nV1 a 0 DC 53.6\nR1 a b 50\nC1 b 0 10m IC=0\n"
                 ".tran 1m 2.6 0 1m UIC\n.control\nrun\n"
                 "meas tran v1 FIND v(b) AT=0.5\nmeas tran v5 FIND v(b) AT=2.5\n"
                 "print v1 v5\nquit 0\n.endc\n.end\n");
  const std::string command =
      fmt::format("cd '{}' && ngspice -b net.cir >log.txt 2>&1 </dev/null", folder.path().string());
  ASSERT_EQ(std::system(command.c_str()), 0);
  const std::string log = support::read(folder / "log.txt");
  const auto value = [&](const std::string& name) {
    const std::size_t at = log.rfind(name + " =");
    EXPECT_NE(at, std::string::npos) << log;
    return at == std::string::npos ? 0.0 : std::atof(log.c_str() + at + name.size() + 2);
  };
  const auto p = wiring::precharge(53.6 * units::V, base::Farads::from_si(0.010),
                                   base::Ohms::from_si(50.0), 1.0 - std::exp(-5.0));
  EXPECT_NEAR(p.time.si(), 2.5, 1e-9);
  EXPECT_NEAR(value("v5"), 53.6 - p.remaining.si(), 1e-4 * 53.6);
  EXPECT_NEAR(value("v1"), 53.6 * (1.0 - std::exp(-1.0)), 1e-4 * 53.6);
  EXPECT_NEAR(p.remaining.si(), 0.36, 0.005);  // published: 0.674 % after five time constants
}

}  // namespace
