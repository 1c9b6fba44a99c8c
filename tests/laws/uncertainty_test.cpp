// SPDX-License-Identifier: Apache-2.0
// The capacity budget against a Monte Carlo propagation of the same model. [JCGM101]
#include "bench/uncertainty.hpp"

#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace {

namespace units = base::units;

double uniform(std::mt19937_64& engine, double half_width) {
  return (2.0 * (double(engine() >> 11) * 0x1.0p-53) - 1.0) * half_width;
}

TEST(CapacityBudget, agrees_with_a_monte_carlo_propagation) {
  const bench::CapacityTest t{.current = 46.10 * units::A,
                              .time = 5.030 * units::h,
                              .temperature = base::Temperature::from_C(23.0),
                              .gain_percent = 0.5,
                              .offset_A = 0.10,
                              .clock_ppm = 50.0,
                              .temperature_halfwidth_K = 2.0,
                              .coefficient_percent_K = 0.1,
                              .coefficient_halfwidth_percent_K = 0.05,
                              .cutoff_mV = 5.0,
                              .cutoff_slope_Ah_V = 11.6,
                              .repeatability_Ah = 0.300};
  const bench::Capacity c = bench::capacity_with_uncertainty(t);
  std::mt19937_64 engine(7);
  const int draws = 200000;
  double sum = 0.0, squares = 0.0;
  for (int i = 0; i < draws; ++i) {
    const double gain = uniform(engine, 0.005), offset = uniform(engine, 0.10),
                 clock = uniform(engine, 50e-6), temperature = 23.0 + uniform(engine, 2.0);
    const double coefficient = 0.001 + uniform(engine, 0.0005), cut = uniform(engine, 0.005) * 11.6;
    const double u1 = (double(engine() >> 11) + 0.5) * 0x1.0p-53,
                 u2 = double(engine() >> 11) * 0x1.0p-53;
    const double repeat = 0.300 * std::sqrt(-2.0 * std::log(u1)) * std::cos(6.283185307179586 * u2);
    const double q = (1.0 + gain) * (46.10 - offset) * 5.030 * (1.0 + clock) *
                         (1.0 + coefficient * (25.0 - temperature)) +
                     cut + repeat;
    sum += q;
    squares += q * q;
  }
  const double mean = sum / draws, sd = std::sqrt(squares / draws - mean * mean);
  EXPECT_NEAR(c.at_25C.in(units::Ah), mean, 0.01);
  EXPECT_NEAR(c.u.in(units::Ah), sd,
              0.01 * sd);  // published Monte Carlo of this example: 0.849 against 0.846
}

TEST(CapacityBudget, adds_its_lines_in_squares) {
  const bench::Capacity c =
      bench::capacity_with_uncertainty({.current = 20.0 * units::A,
                                        .time = 5.0 * units::h,
                                        .temperature = base::Temperature::from_C(20.0),
                                        .gain_percent = 1.0,
                                        .offset_A = 0.02,
                                        .cutoff_mV = 10.0,
                                        .cutoff_slope_Ah_V = 5.0,
                                        .repeatability_Ah = 0.1});
  double squares = 0.0;
  for (const auto& line : c.budget) squares += line.contribution_Ah * line.contribution_Ah;
  EXPECT_NEAR(c.u.in(units::Ah), std::sqrt(squares), 1e-12);
}

TEST(GuardBand, never_accepts_and_rejects_the_same_value) {
  for (double value = 225.0; value <= 235.0; value += 0.05) {
    const auto lower = bench::judge(value, 0.8, 230.0, bench::LimitSide::lower, 0.05),
               upper = bench::judge(value, 0.8, 230.0, bench::LimitSide::upper, 0.05);
    EXPECT_NEAR(lower.probability_conforming + upper.probability_conforming, 1.0, 1e-12);
    if (lower.verdict == bench::Verdict::accept) {
      EXPECT_EQ(upper.verdict, bench::Verdict::reject);
    }
    if (std::abs(value - 230.0) < 0.8) {
      EXPECT_EQ(lower.verdict, bench::Verdict::undecided);
    }
  }
}

}  // namespace
