// SPDX-License-Identifier: Apache-2.0
// The twin against the continuous equations of the bank, written again here and integrated by the
// GNU Scientific Library; and against the closed forms of two cells in parallel.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <vector>

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <gtest/gtest.h>

#include "bank/twin.hpp"
#include "cell/chemistry.hpp"

namespace {

namespace units = base::units;
using bank::Demand;

constexpr double rated_Ah = 230.0, room_C = 24.0, sample_s = 600.0;

/// No device acts.
layout::Limits wide_open() {
  layout::Limits l;
  l.bms.cell_high = l.bms.cell_high_release = 9.0 * units::V;
  l.bms.cell_low = l.bms.cell_low_release = 0.1 * units::V;
  l.bms.charge_stop = l.bms.charge_release = base::Temperature::from_C(-90.0);
  l.bms.charge_hot = l.bms.discharge_hot = base::Temperature::from_C(190.0);
  l.charger.per_cell = l.charger.float_per_cell = 9.0 * units::V;
  l.charger.recharge_per_cell = 0.1 * units::V;
  l.inverter.alarm_per_cell = l.inverter.stop_per_cell = 0.1 * units::V;
  l.inverter.restart_per_cell = 0.2 * units::V;
  l.inverter.charge_stop_per_cell = 9.0 * units::V;
  l.balancer.start = 9.0 * units::V;
  return l;
}

/// Cells that differ: capacity ± 2 %, resistances ± 10 %, charge ± 1 %; from pack to pack 1 % more.
bank::Setup bank_of(int packs, int series, int parallel, double charge, double unequal = 1.0) {
  std::mt19937_64 engine(11);
  const auto draw = [&] { return unequal * (double(engine() >> 11) * 0x1.0p-52 - 1.0); };
  bank::Setup s;
  s.layout = {.packs = packs, .series = series, .parallel = parallel};
  s.layout.take_off = layout::TakeOff::star;
  s.layout.pack_extra *= series / 16.0, s.layout.lead *= series / 16.0;
  s.limits = wide_open();
  s.rated_capacity = rated_Ah * units::Ah;
  for (int i = 0; i < s.layout.places(); ++i) {
    cell::Model m = cell::Model::scaled(rated_Ah * (1.0 + 0.02 * draw()) * units::Ah);
    const double factor = 1.0 + 0.1 * draw();
    m.r0 *= factor, m.r1 *= factor, m.r2 *= factor;
    m.leak = 0.003 * units::A;
    s.cells.push_back(m);
    s.start_charge.push_back(charge + 0.01 * draw() + 0.01 * (i / s.layout.places_in_pack()));
  }
  return s;
}

/// The bank in continuous time. Per cell: charge, v1, v2, branch, °C.
class Continuous {
 public:
  static constexpr std::size_t of_cell = 5;

  explicit Continuous(const bank::Setup& setup) : setup_(setup), n_(setup.cells.size()) {
    for (std::size_t c = 0; c < n_; ++c) {
      const double start[of_cell] = {setup.start_charge[c], 0.0, 0.0, 0.0, setup.start.in_C()};
      y_.insert(y_.end(), start, start + of_cell);
    }
    system_ = {derivative, nullptr, y_.size(), this};
    driver_ = gsl_odeiv2_driver_alloc_y_new(&system_, gsl_odeiv2_step_rk8pd, 1.0, 1e-9, 1e-9);
    current_.resize(n_), voltage_.resize(n_), rest_.resize(n_), ohmic_.resize(n_), slow_.resize(n_);
  }
  ~Continuous() { gsl_odeiv2_driver_free(driver_); }
  Continuous(const Continuous&) = delete;
  Continuous& operator=(const Continuous&) = delete;

  void ask(const Demand& demand) {
    demand_ = demand;
    gsl_odeiv2_driver_reset(driver_);
  }
  void run_to(double time_s) {
    ASSERT_EQ(gsl_odeiv2_driver_apply(driver_, &time_s_, time_s, y_.data()), GSL_SUCCESS);
    share(y_.data());
  }
  [[nodiscard]] double charge(std::size_t cell) const { return y_[cell * of_cell]; }
  [[nodiscard]] double celsius(std::size_t cell) const { return y_[cell * of_cell + 4]; }
  [[nodiscard]] double volts(std::size_t cell) const { return voltage_[cell]; }

 private:
  /// With every state held, all is linear in the currents: sources behind R0.
  void share(const double* y) {
    const layout::Layout& l = setup_.layout;
    const auto P = std::size_t(l.parallel), S = std::size_t(l.series), K = std::size_t(l.packs);
    for (std::size_t c = 0; c < n_; ++c) {
      const cell::Model& m = setup_.cells[c];
      const double* x = y + c * of_cell;
      const auto f = cell::resistance_factors(base::Temperature::from_C(x[4]));
      const double inside = std::clamp(x[0], 0.0, 1.0);
      rest_[c] = cell::open_circuit_voltage(inside).si() +
                 cell::open_circuit_slope_V(inside) * (x[0] - inside);
      ohmic_[c] = m.r0.si() * f.ohmic * cell::bent(cell::ohmic_bends, x[0]);
      const double bend = cell::bent(cell::slow_bends, x[0]);
      slow_[c] = {m.r1.si() * f.fast * bend, m.r2.si() * f.slow * bend};
    }
    const auto source = [&](std::size_t c) {
      const double* x = y + c * of_cell;
      return rest_[c] + setup_.cells[c].hysteresis.si() * x[3] - x[1] - x[2];
    };
    const double path = l.link.si() * (l.series - 1) + l.joint.si() * 2.0 * l.series +
                        l.pack_extra.si() + 2.0 * l.lead.si();
    std::vector<double> group_E(K * S), group_R(K * S), pack_E(K, 0.0), pack_R(K, path);
    double short_A = 0.0, by_R = 0.0;
    for (std::size_t k = 0; k < K; ++k) {
      for (std::size_t g = k * S; g < (k + 1) * S; ++g) {
        double amps = 0.0, siemens = 0.0;
        for (std::size_t c = g * P; c < (g + 1) * P; ++c)
          amps += source(c) / ohmic_[c], siemens += 1.0 / ohmic_[c];
        group_R[g] = 1.0 / siemens, group_E[g] = amps / siemens;
        pack_E[k] += group_E[g], pack_R[k] += group_R[g];
      }
      short_A += pack_E[k] / pack_R[k], by_R += 1.0 / pack_R[k];
    }
    // U = E − R·I at the bus; with P = U·I, U is the larger root of U² − E·U + P·R.
    const double E = short_A / by_R, R = 1.0 / by_R;
    const double U = demand_.kind == Demand::Kind::current
                         ? E - R * demand_.value
                         : 0.5 * E + std::sqrt(0.25 * E * E - demand_.value * R);
    for (std::size_t k = 0; k < K; ++k) {
      const double pack_A = (pack_E[k] - U) / pack_R[k];
      for (std::size_t g = k * S; g < (k + 1) * S; ++g)
        for (std::size_t c = g * P; c < (g + 1) * P; ++c) {
          voltage_[c] = group_E[g] - group_R[g] * pack_A;
          current_[c] = (source(c) - voltage_[c]) / ohmic_[c];
        }
    }
  }

  void derive(const double* y, double* dy) {
    share(y);
    const bank::Thermal& heat = setup_.thermal;
    const auto pack = std::size_t(setup_.layout.places_in_pack());
    const auto row = std::size_t(setup_.layout.series / setup_.rows * setup_.layout.parallel);
    for (std::size_t c = 0; c < n_; ++c) {
      const cell::Model& m = setup_.cells[c];
      const double* x = y + c * of_cell;
      double* d = dy + c * of_cell;
      const double I = current_[c], C = m.capacity.si(), sign = I > 0.0 ? 1.0 : I < 0.0 ? -1.0 : 0;
      d[0] = -(I + m.leak.si()) / C;
      d[1] = (I * slow_[c].r1 - x[1]) / m.tau1.si();
      d[2] = (I * slow_[c].r2 - x[2]) / m.tau2.si();
      d[3] = 25.0 * std::abs(I) / C * (-sign - x[3]);
      double W = I * (rest_[c] - voltage_[c]) -
                 I * (x[4] + 273.15) * cell::entropic_coefficient(x[0]).si() +
                 heat.to_room_W_K * (room_C - x[4]);
      const std::size_t place = c % pack % row;
      if (place > 0) W += heat.along_row_W_K * ((x - of_cell)[4] - x[4]);
      if (place + 1 < row) W += heat.along_row_W_K * ((x + of_cell)[4] - x[4]);
      d[4] = W / heat.heat_capacity_J_K;
    }
  }
  static int derivative(double, const double* y, double* dy, void* self) {
    static_cast<Continuous*>(self)->derive(y, dy);
    return GSL_SUCCESS;
  }

  struct Slow {
    double r1, r2;
  };
  const bank::Setup& setup_;
  std::size_t n_;
  std::vector<double> y_, current_, voltage_, rest_, ohmic_;
  std::vector<Slow> slow_;
  Demand demand_;
  double time_s_ = 0.0;
  gsl_odeiv2_system system_ = {};
  gsl_odeiv2_driver* driver_ = nullptr;
};

/// A day between an eighth and 95 % of charge, in multiples of C, discharge positive.
struct Stretch {
  int minutes;
  double rate;
};
constexpr Stretch day[] = {{47, 0.2},    {23, 0.0},   {31, 0.5},  {41, 0.0},   {83, -0.3},
                           {55, -0.1},   {12, 0.0},   {44, -0.4}, {67, 0.0},   {120, 0.05},
                           {58, 0.35},   {33, -0.15}, {17, 0.45}, {29, 0.0},   {66, 0.25},
                           {71, -0.5},   {90, 0.0},   {101, 0.1}, {37, -0.2},  {52, 0.3},
                           {150, -0.05}, {60, 0.0},   {38, 0.4},  {115, -0.25}};

Demand asked(const bank::Setup& s, Demand::Kind kind, double rate) {
  const double A = rate * rated_Ah * s.layout.parallel * s.layout.packs;
  return {kind, kind == Demand::Kind::power ? A * (rate > 0.0 ? 3.20 : 3.38) * s.layout.series : A};
}

struct Seen {
  double volts, charge, celsius;
};
struct Worst {
  double volts = 0.0, charge = 0.0, kelvin = 0.0, at_s = 0.0, kelvin_at_s = 0.0;
};

/// Each cell every ten minutes, at the end of the demand that holds until then.
std::vector<Seen> by_equations(const bank::Setup& s, Demand::Kind kind) {
  Continuous reference(s);
  std::vector<Seen> seen;
  double t = 0.0, next = sample_s;
  for (const Stretch& stretch : day) {
    const double end = t + 60.0 * stretch.minutes;
    reference.ask(asked(s, kind, stretch.rate));
    for (; next <= end; next += sample_s) {
      reference.run_to(next);
      for (std::size_t c = 0; c < s.cells.size(); ++c)
        seen.push_back({reference.volts(c), reference.charge(c), reference.celsius(c)});
    }
    reference.run_to(t = end);
  }
  return seen;
}

Worst by_twin(const bank::Setup& s, Demand::Kind kind, double step_s,
              const std::vector<Seen>& reference) {
  bank::Twin twin(s);
  twin.set_step(step_s * units::s);
  Worst worst;
  std::size_t k = 0;
  int steps = 0;
  for (const Stretch& stretch : day) {
    const Demand demand = asked(s, kind, stretch.rate);
    for (int i = 0; i < int(60.0 * stretch.minutes / step_s + 0.5); ++i) {
      twin.step(demand, room_C);
      if (++steps % int(sample_s / step_s + 0.5) != 0) continue;
      for (int c = 0; c < twin.cells(); ++c, ++k) {
        const Seen& is = reference.at(k);
        const double off_V = std::abs(twin.cell_V(c) - is.volts);
        if (off_V > worst.volts) worst.volts = off_V, worst.at_s = twin.time_s();
        worst.charge = std::max(worst.charge, std::abs(twin.charge(c) - is.charge));
        const double off_K = std::abs(twin.temperature_C(c) - is.celsius);
        if (off_K > worst.kelvin) worst.kelvin = off_K, worst.kelvin_at_s = twin.time_s();
      }
    }
  }
  EXPECT_EQ(k, reference.size());
  EXPECT_TRUE(twin.events().empty()) << bank::words(twin.events().front());
  return worst;
}

struct Allowed {
  double step_s, volts, charge, kelvin;
};
using Steps = std::vector<Allowed>;
const Steps asked_for = {
    {1.0, 0.001, 0.001, 0.1}, {10.0, 0.001, 0.001, 0.1}, {60.0, 0.001, 0.001, 0.1}};
// Cells in parallel at steps of a minute: as reached, rounded up.
const Steps with_parallel = {
    {1.0, 0.001, 0.001, 0.1}, {10.0, 0.001, 0.001, 0.1}, {60.0, 0.0015, 0.0011, 0.1}};

void expect_a_day_as_the_equations_say(const char* name, const bank::Setup& s,
                                       const Steps& steps = asked_for) {
  for (const Demand::Kind kind : {Demand::Kind::current, Demand::Kind::power}) {
    const std::vector<Seen> reference = by_equations(s, kind);
    const auto [low, high] = std::minmax_element(
        reference.begin(), reference.end(), [](auto& a, auto& b) { return a.charge < b.charge; });
    EXPECT_GT(low->charge, 0.10);
    EXPECT_LT(high->charge, 0.97);
    for (const auto& [step_s, volts, charge, kelvin] : steps) {
      const Worst worst = by_twin(s, kind, step_s, reference);
      const char* by = kind == Demand::Kind::power ? "power" : "current";
      std::printf("%-10s %-7s %2.0f s: %.4f mV at %5.0f s, charge %.6f, %.4f K at %5.0f s\n", name,
                  by, step_s, 1e3 * worst.volts, worst.at_s, worst.charge, worst.kelvin,
                  worst.kelvin_at_s);
      EXPECT_LT(worst.volts, volts) << name << ' ' << by << ' ' << step_s;
      EXPECT_LT(worst.charge, charge) << name << ' ' << by << ' ' << step_s;
      EXPECT_LT(worst.kelvin, kelvin) << name << ' ' << by << ' ' << step_s;
    }
  }
}

TEST(TwinAgainstEquations, follows_one_cell_through_a_day) {
  expect_a_day_as_the_equations_say("1 x 1S1P", bank_of(1, 1, 1, 0.55));
}

TEST(TwinAgainstEquations, follows_sixteen_unequal_cells_through_a_day) {
  bank::Setup s = bank_of(1, 16, 1, 0.55);
  s.rows = 2;
  expect_a_day_as_the_equations_say("1 x 16S1P", s);
}

TEST(TwinAgainstEquations, follows_two_packs_of_unequal_pairs_through_a_day) {
  expect_a_day_as_the_equations_say("2 x 8S2P", bank_of(2, 8, 2, 0.55), with_parallel);
}

// Cells too heavy to warm: what is left is the circuit and the network, whose error goes with the
// step.
TEST(TwinAgainstEquations, follows_a_day_at_one_temperature_the_closer_the_shorter_its_steps) {
  bank::Setup s = bank_of(2, 8, 2, 0.55);
  s.thermal.heat_capacity_J_K = 1e12;
  expect_a_day_as_the_equations_say(
      "unheated", s,
      {{1.0, 5e-5, 3e-5, 1e-6}, {10.0, 5e-4, 3e-4, 1e-6}, {60.0, 0.004, 0.001, 1e-6}});
}

/// Two cells in parallel that are nothing but R0 on a straight curve of slope a, at 25 °C for ever.
bank::Setup pair_of(double R1_mOhm, double R2_mOhm, double Q1_Ah, double Q2_Ah, double a) {
  bank::Setup s;
  s.layout = {.packs = 1, .series = 1, .parallel = 2};
  s.limits = wide_open();
  s.rated_capacity = rated_Ah * units::Ah;
  for (const auto& [R, Q] : {std::pair{R1_mOhm, Q1_Ah}, {R2_mOhm, Q2_Ah}}) {
    cell::Model m;
    m.capacity = Q * units::Ah, m.r0 = R * units::mOhm, m.hysteresis = 0.0 * units::V;
    s.cells.push_back(m);
  }
  s.start_charge = {0.7, 0.7};
  s.curves = {{{0.0, 1.0}, {3.3 - 0.5 * a, 3.3 + 0.5 * a}}};
  s.curve_of = {0, 0};
  s.start = base::Temperature::from_C(25.0);
  s.thermal.heat_capacity_J_K = 1e12;
  return s;
}

// Own derivation: equal charge, so I1/I = R2/(R1 + R2) at once.
TEST(TwinAgainstClosedForm, two_cells_first_share_by_resistance) {
  for (const auto& [ratio, share] :
       {std::pair{1.05, 0.5122}, {1.10, 0.5238}, {1.20, 0.5455}, {1.30, 0.5652}, {1.50, 0.6000}}) {
    bank::Setup s = pair_of(0.5, 0.5 * ratio, rated_Ah, rated_Ah, 0.04);
    bank::Twin twin(s);
    twin.set_step(0.001 * units::s);
    twin.step({Demand::Kind::current, 100.0}, 25.0);
    EXPECT_NEAR(twin.cell_A(0) / 100.0, share, 5e-5);
    EXPECT_NEAR(twin.cell_A(0) / 100.0, ratio / (1.0 + ratio), 1e-6);
    EXPECT_NEAR(twin.cell_A(0) + twin.cell_A(1), 100.0, 1e-9);
  }
}

// Own derivation: with z1 − z2 as the one state, I1 = (a·(z1 − z2) + R2·I)/(R1 + R2) goes from that
// share to Q1/(Q1 + Q2) with tau = (R1 + R2)·Q1·Q2/((Q1 + Q2)·a); 2.875 h for 2 × 230 Ah,
// 2 × 0.5 mΩ, a = 0.04 V.
TEST(TwinAgainstClosedForm, two_cells_in_the_end_share_by_capacity) {
  for (const auto& [R1, R2, Q1, Q2] :
       {std::tuple{0.5, 0.6, 230.0, 230.0}, {0.4, 0.6, 200.0, 260.0}, {0.5, 0.5, 230.0, 180.0}}) {
    const double a = 0.04, I = 20.0;
    const double tau_s = 1e-3 * (R1 + R2) * 3600.0 * Q1 * Q2 / ((Q1 + Q2) * a);
    for (const double step_s : {10.0, 60.0, 120.0}) {
      bank::Setup s = pair_of(R1, R2, Q1, Q2, a);
      bank::Twin twin(s);
      twin.set_step(step_s * units::s);
      const double first = R2 / (R1 + R2), last = Q1 / (Q1 + Q2);
      double worst = 0.0;
      for (int i = 0; i < int(28800.0 / step_s + 0.5); ++i) {
        twin.step({Demand::Kind::current, I}, 25.0);
        const double share = last + (first - last) * std::exp(-twin.time_s() / tau_s);
        worst = std::max(worst, std::abs(twin.cell_A(0) / I - share));
      }
      // A backward step of Δt is off by Δt/(2 e τ) of what is on its way, at most.
      EXPECT_LT(worst, 0.2 * step_s / tau_s * std::abs(first - last) + 1e-6) << step_s;
    }
  }
}

// Hours of charge and discharge at half of C: a source behind R0 alone would swing from step to
// step here and grow.
TEST(TwinStability, parallel_cells_never_swing_from_step_to_step) {
  for (const auto& [series, parallel] : {std::pair{1, 4}, {4, 3}})
    for (const double step_s : {60.0, 120.0}) {
      bank::Setup s = bank_of(1, series, parallel, 0.93);
      bank::Twin twin(s);
      twin.set_step(step_s * units::s);
      const auto n = std::size_t(twin.cells());
      double highest = 0.0, lowest = 1e9, rest_A = 0.0, swing = 0.0;
      for (const double rate : {0.5, 0.0, -0.5, 0.0, 0.5, -0.5, 0.0, 0.5, -0.5}) {
        std::vector<std::vector<double>> amps;
        for (int i = 0; i < int((rate == 0.0 ? 3600.0 : 5700.0) / step_s); ++i) {
          twin.step(asked(s, Demand::Kind::current, rate), room_C);
          amps.emplace_back();
          for (std::size_t c = 0; c < n; ++c) {
            const double A = twin.cell_A(int(c));
            amps.back().push_back(A);
            if (rate == 0.0) {
              rest_A = std::max(rest_A, std::abs(A));
              continue;
            }
            highest = std::max(highest, A / (rate * rated_Ah));
            lowest = std::min(lowest, A / (rate * rated_Ah));
          }
        }
        // Four changes in a row, each against the one before: the least of them.
        for (std::size_t k = 4; k < amps.size(); ++k)
          for (std::size_t c = 0; c < n; ++c) {
            double least = 1e9;
            for (std::size_t j = k - 3; j <= k; ++j) {
              const double now = amps[j][c] - amps[j - 1][c];
              const double sign = (k - j) % 2 == 0 ? 1.0 : -1.0;
              const double last = amps[k][c] - amps[k - 1][c];
              least = std::min(least, now * sign * (last > 0.0 ? 1.0 : -1.0));
            }
            swing = std::max(swing, least);
          }
      }
      std::printf("%dS%dP %3.0f s: share %.3f to %.3f, at rest %.2f A, swing %.4f A\n", series,
                  parallel, step_s, lowest, highest, rest_A, swing);
      EXPECT_GT(lowest, 0.7);
      EXPECT_LT(highest, 1.35);
      EXPECT_LT(rest_A, 0.1 * rated_Ah);
      EXPECT_LT(swing, 0.03 * 0.5 * rated_Ah);  // where the curve bends
      EXPECT_TRUE(twin.events().empty());
    }
}

}  // namespace
