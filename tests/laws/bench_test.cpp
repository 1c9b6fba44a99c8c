// SPDX-License-Identifier: Apache-2.0
// What a log says must be what made it: logs from a known cell with known errors, short and long.
#include <cmath>
#include <random>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "bench/fit.hpp"
#include "bench/measure.hpp"
#include "cell/chemistry.hpp"
#include "cell/model.hpp"
#include "logs/read_log.hpp"

namespace {

namespace units = base::units;

/// Draws that are the same on every machine.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : engine_(seed) {}
  double uniform() { return double(engine_() >> 11) * 0x1.0p-53; }
  double within(double half_width) { return (2.0 * uniform() - 1.0) * half_width; }
  double normal(double sd) {
    const double u = uniform() + 0x1.0p-54;
    return sd * std::sqrt(-2.0 * std::log(u)) * std::cos(6.283185307179586 * uniform());
  }

 private:
  std::mt19937_64 engine_;
};

/// One test of a cell that truly gives `capacity_Ah` from full to 2.5 V at 25 °C, on a tester whose
/// errors are drawn from what it claims: tail of a charge, rest, discharge at a fifth of the
/// capacity.
std::string log_with_errors(double capacity_Ah, const bench::Tester& claims, Draws& draws) {
  const double gain = draws.within(claims.gain_percent / 100.0),
               offset = draws.within(claims.offset_A),
               clock = draws.within(claims.clock_ppm * 1e-6),
               cut = draws.within(claims.cutoff_mV * 1e-3),
               kelvin = draws.within(claims.temperature_halfwidth_K),
               repeat = draws.normal(claims.repeatability_percent / 100.0);
  const double amps = 0.2 * capacity_Ah;
  // What it holds today: repeatability, temperature at 0.1 %/K, and where the tester really stops.
  const double today_Ah = capacity_Ah * (1.0 + repeat + 0.001 * kelvin - 0.05 * cut);
  std::string text = "time_s,voltage_V,current_A,temperature_C\n";
  double s = 0.0;
  const auto row = [&](double volts, double true_A, double noise_A) {
    const double shown_A =
        true_A == 0.0 ? 0.0 : true_A * (1.0 + gain) + (true_A > 0.0 ? 1.0 : -1.0) * offset;
    text += fmt::format("{:.2f},{:.4f},{:.4f},25.0\n", s * (1.0 + clock), volts,
                        shown_A + (true_A == 0.0 ? 0.0 : draws.normal(noise_A)));
  };
  const double phase_s = 30.0 * draws.uniform();  // rows do not begin with the step
  for (int k = 0; k < 8; ++k, s += 30.0) row(3.60 + 0.006 * k, -amps, 0.01);
  for (int k = 0; k < 12; ++k, s += 30.0) row(3.65, -amps * std::exp(-0.3 * k), 0.01);
  for (int k = 0; k < 10; ++k, s += 30.0) row(3.45, 0.0, 0.0);
  const double begin_s = s, end_s = begin_s + today_Ah / amps * 3600.0;
  for (s = begin_s + phase_s; s < end_s; s += 30.0) {
    const double left = 1.0 - (s - begin_s) / (end_s - begin_s);
    row(cell::open_circuit_voltage(0.004 + 0.99 * left).in(units::V)-0.03 -
            (left < 0.002 ? 0.1 : 0),
        amps, 0.01);
  }
  for (int k = 0; k < 10; ++k, s += 30.0) row(2.9, 0.0, 0.0);
  return text;
}

TEST(Coverage, intervals_hold_the_true_capacity_as_often_as_they_say) {
  Draws draws(20261125);
  bench::Tester claims;
  claims.stated = true;
  int covered = 0, measured = 0;
  for (int k = 0; k < 1000; ++k) {
    const double truth = 90.0 + 20.0 * draws.uniform();
    const auto result = logs::read_log(log_with_errors(truth, claims, draws));
    const auto* log = std::get_if<logs::Log>(&result);
    ASSERT_NE(log, nullptr) << k;
    const auto capacity = bench::measure(*log, claims).measures.discharge_capacity_Ah;
    if (!capacity) continue;
    ++measured;
    covered += std::abs(capacity->value - truth) <= 1.96 * capacity->u;
  }
  EXPECT_EQ(measured, 1000);
  const double percent = 100.0 * covered / std::max(1, measured);
  RecordProperty("percent_covered", fmt::format("{:.1f}", percent));
  EXPECT_GE(percent, 94.0);
  EXPECT_LE(percent, 98.5);
}

/// Rows of the equivalent circuit itself: charge, rest, discharge with pulses on the way.
logs::Log log_of_model(const cell::Model& model, double row_s) {
  logs::Log log;
  cell::State state{.charge = 0.3, .v1 = {}, .v2 = {}, .branch = -1.0};
  const auto warm = base::Temperature::from_C(25.0);
  double s = 0.0;
  const auto run = [&](double amps, double seconds) {
    for (double t = 0.0; t < seconds; t += row_s) {
      state = cell::after(model, state, amps * units::A, row_s * units::s, warm);
      s += row_s;
      log.time_s.push_back(s);
      log.current_A.push_back(amps);
      log.voltage_V.push_back(
          cell::terminal_voltage(model, state, amps * units::A, warm).in(units::V));
    }
  };
  run(0.0, 60.0);
  run(-20.0, 0.65 * 5.0 * 3600.0);
  run(0.0, 3600.0);
  for (int k = 0; k < 6; ++k) run(40.0, 600.0), run(0.0, 900.0);
  run(20.0, 1.6 * 3600.0);
  run(0.0, 1800.0);
  logs::fill_shares(log);
  return log;
}

TEST(Fit, gives_back_the_circuit_that_made_the_log) {
  const cell::Model model = cell::Model::scaled(100.0 * units::Ah);
  const logs::Log log = log_of_model(model, 1.0);
  const bench::FitLog from{&log, 0.3};
  const auto result = bench::fit_cell({&from, 1}, 100.0);
  const auto* fitted = std::get_if<bench::FittedCell>(&result);
  ASSERT_NE(fitted, nullptr);
  EXPECT_LT(fitted->residual_rms_mV, 1.5);  // the curve by straight lines between its knots
  const auto near = [](double value, double truth, double share, const char* what) {
    EXPECT_NEAR(value, truth, share * truth) << what;
  };
  near(fitted->r0_mOhm.value, model.r0.in(units::mOhm), 0.03, "R0");
  near(fitted->r1_mOhm.value, model.r1.in(units::mOhm), 0.15, "R1");
  near(fitted->r2_mOhm.value, model.r2.in(units::mOhm), 0.10, "R2");
  near(fitted->tau1_s.value, model.tau1.in(units::s), 0.20, "tau1");
  near(fitted->tau2_s.value, model.tau2.in(units::s), 0.20, "tau2");
  EXPECT_FALSE(fitted->time_constants_assumed);
  // Played back it gives the log again.
  const std::vector<double> again = bench::replay(*fitted, from);
  double squares = 0.0, n = 0.0;
  for (std::size_t k = 0; k < again.size(); ++k)
    if (std::isfinite(again[k])) squares += std::pow(again[k] - log.voltage_V[k], 2), n += 1.0;
  EXPECT_GT(n, 0.95 * double(again.size()));
  EXPECT_LT(std::sqrt(squares / n), 0.003);
}

TEST(Fit, says_why_where_there_is_none) {
  logs::Log still;
  for (int k = 0; k < 500; ++k)
    still.time_s.push_back(k), still.voltage_V.push_back(3.3), still.current_A.push_back(0.0);
  logs::fill_shares(still);
  const bench::FitLog from{&still, 0.5};
  EXPECT_TRUE(std::holds_alternative<bench::NoFit>(bench::fit_cell({&from, 1}, 100.0)));
  EXPECT_TRUE(std::holds_alternative<bench::NoFit>(bench::fit_cell({&from, 1}, 0.0)));
  const logs::Log coarse = log_of_model(cell::Model::scaled(100.0 * units::Ah), 20.0);
  const bench::FitLog far_apart{&coarse, 0.3};
  const auto fitted = bench::fit_cell({&far_apart, 1}, 100.0);
  ASSERT_TRUE(std::holds_alternative<bench::FittedCell>(fitted));
  EXPECT_TRUE(std::get<bench::FittedCell>(fitted).time_constants_assumed);
}

TEST(Condense, keeps_every_integral_and_the_phases) {
  const logs::Log whole = log_of_model(cell::Model::scaled(100.0 * units::Ah), 1.0);
  logs::Log joined = whole;
  double width = 1.0;
  logs::condense(joined, 4000, width);
  EXPECT_LE(joined.rows(), 4000u);
  EXPECT_EQ(joined.rows_used(), whole.rows());
  const auto a = bench::totals(whole), b = bench::totals(joined);
  EXPECT_NEAR(a.charged_Ah, b.charged_Ah, 1e-9);
  EXPECT_NEAR(a.discharged_Ah, b.discharged_Ah, 1e-9);
  EXPECT_NEAR(a.discharged_Wh, b.discharged_Wh, 1e-7);
  const auto before = bench::find_phases(whole), after = bench::find_phases(joined);
  ASSERT_EQ(before.size(), after.size());
  for (std::size_t k = 0; k < before.size(); ++k) {
    EXPECT_EQ(before[k].kind, after[k].kind);
    EXPECT_NEAR(before[k].charge_Ah, after[k].charge_Ah, 1e-6);
  }
  const auto r = bench::dc_resistance(whole, {}, 10.0, 120.0),
             s = bench::dc_resistance(joined, {}, 10.0, 120.0);
  EXPECT_NEAR(r->mOhm.value, s->mOhm.value, 1e-3 * r->mOhm.value);  // steps are kept whole
}

TEST(LongLogs, read_the_same_in_batches_as_at_once) {
  // Longer than the first batch, so that rows arrive in several; every tenth second a row.
  std::string text = "time_s,voltage_V,current_A\n";
  const int n = 300000;
  for (int k = 0; k < n; ++k) {
    const double share = double(k % 30000) / 30000.0;
    const double amps = k % 30000 < 100 ? 0.0 : (k / 30000) % 2 == 0 ? -20.0 : 20.0;
    text += fmt::format("{:.1f},{:.4f},{:.3f}\n", k * 0.6,
                        3.3 - amps * 0.002 + (amps < 0 ? 0.1 : -0.1) * share, amps);
  }
  const auto result = logs::read_log(text);
  ASSERT_TRUE(std::holds_alternative<logs::Log>(result));
  const auto& log = std::get<logs::Log>(result);
  EXPECT_EQ(log.rows_used() + log.rows_left_out(), std::size_t(n));
  const auto t = bench::totals(log);
  EXPECT_NEAR(t.charged_Ah, 5 * 29900 * 0.6 * 20.0 / 3600.0, 0.02);
  EXPECT_NEAR(t.discharged_Ah, 5 * 29900 * 0.6 * 20.0 / 3600.0, 0.02);
}

TEST(Leads, are_taken_off_where_the_tester_says_how_long_they_are) {
  const logs::Log log = log_of_model(cell::Model::scaled(100.0 * units::Ah), 10.0);
  logs::Log at_tester = log;
  const double lead_Ohm = 0.004;
  for (std::size_t k = 0; k < log.rows(); ++k) {
    at_tester.voltage_V[k] -= lead_Ohm * log.current_A[k];
    at_tester.energy_Ws[k] -= lead_Ohm * log.current_A[k] * log.charge_As[k];
  }
  bench::Tester leads;
  leads.wires = 2;
  leads.lead_mOhm = 4.0;
  const auto right = bench::measure(log, {}), corrected = bench::measure(at_tester, leads);
  EXPECT_NEAR(corrected.measures.totals.discharged_Wh, right.measures.totals.discharged_Wh, 1e-9);
  ASSERT_TRUE(corrected.measures.resistance && right.measures.resistance);
  EXPECT_NEAR(corrected.measures.resistance->mOhm.value, right.measures.resistance->mOhm.value,
              1e-9);
  EXPECT_GT(corrected.measures.resistance->mOhm.u, right.measures.resistance->mOhm.u);
}

TEST(Reference, moves_a_capacity_the_way_its_conditions_ask) {
  const bench::MeasuredCapacity usual{.capacity_Ah = 230.0,
                                      .u_Ah = 0.7,
                                      .current_A = 46.0,
                                      .end_V = 2.5,
                                      .temperature_C = 25.0,
                                      .temperature_halfwidth_K = 1.0,
                                      .resistance_mOhm = 0.4};
  const auto same = bench::to_reference(usual, {}).value();
  EXPECT_NEAR(same.capacity_Ah.value, 230.0, 0.02);  // it was tested at reference conditions
  auto early = usual;
  early.end_V = 2.8;  // stopped early: more is in the cell
  EXPECT_GT(bench::to_reference(early, {})->capacity_Ah.value, 231.0);
  auto cold = usual;
  cold.temperature_C = 10.0;
  EXPECT_GT(bench::to_reference(cold, {})->capacity_Ah.value, 230.5);
  auto fast = usual;
  fast.current_A = 115.0;
  EXPECT_GT(bench::to_reference(fast, {})->capacity_Ah.value, 230.2);
  EXPECT_GT(bench::to_reference(early, {})->capacity_Ah.u, same.capacity_Ah.u);
  auto flat = usual;
  flat.end_V = 3.2;
  EXPECT_FALSE(bench::to_reference(flat, {}).has_value());
}

}  // namespace
