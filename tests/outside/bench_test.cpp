// SPDX-License-Identifier: Apache-2.0
// Fitting, incremental capacity, drift and the fitted cell against certified values, published
// tables and open measurement data.
#include <cmath>
#include <fstream>
#include <sstream>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/least_squares.hpp"
#include "base/number.hpp"
#include "bench/fit.hpp"
#include "bench/incremental.hpp"
#include "bench/measure.hpp"
#include "bench/runs.hpp"
#include "logs/read_log.hpp"
#include "tests/support/support.hpp"

namespace {

struct Certified {
  std::vector<double> x, y;
  std::function<double(std::span<const double>, double)> model;
  std::vector<std::vector<double>> starts;
  std::vector<double> values, errors;
  double residual_sum;
};

void expect_certified(const Certified& c, double relative) {
  for (const std::vector<double>& start : c.starts) {
    const auto fit = base::least_squares(
        [&](std::span<const double> b, std::span<double> r) {
          for (std::size_t k = 0; k < r.size(); ++k) r[k] = c.model(b, c.x[k]) - c.y[k];
        },
        start, c.y.size());
    EXPECT_TRUE(fit.converged);
    for (std::size_t k = 0; k < c.values.size(); ++k) {
      EXPECT_NEAR(fit.parameters[k], c.values[k], relative * std::abs(c.values[k])) << "b" << k + 1;
      EXPECT_NEAR(fit.standard_errors[k], c.errors[k], 1e-4 * c.errors[k]) << "sd of b" << k + 1;
    }
    EXPECT_NEAR(fit.residual_sum, c.residual_sum, 1e-6 * c.residual_sum);
  }
}

// [NIST-StRD] Misra1a, both starts.
TEST(LeastSquares, reaches_the_certified_values_of_Misra1a) {
  expect_certified({.x = {77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3,
                          536.8, 593.1, 689.1, 760.0},
                    .y = {10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05,
                          61.01, 66.40, 75.47, 81.78},
                    .model = [](auto b, double x) { return b[0] * (1.0 - std::exp(-b[1] * x)); },
                    .starts = {{500.0, 0.0001}, {250.0, 0.0005}},
                    .values = {2.3894212918e2, 5.5015643181e-4},
                    .errors = {2.7070075241, 7.2668688436e-6},
                    .residual_sum = 1.2455138894e-1},
                   1e-6);
}

// [NIST-StRD] Lanczos3, both starts: the sum of three exponentials, as a relaxing cell's voltage
// is.
TEST(LeastSquares, reaches_the_certified_values_of_Lanczos3) {
  Certified c{.x = {},
              .y = {2.5134, 2.0443, 1.6684, 1.3664, 1.1232, 0.9269, 0.7679, 0.6389,
                    0.5338, 0.4479, 0.3776, 0.3197, 0.2720, 0.2325, 0.1997, 0.1723,
                    0.1493, 0.1301, 0.1138, 0.1000, 0.0883, 0.0783, 0.0698, 0.0624},
              .model =
                  [](auto b, double x) {
                    return b[0] * std::exp(-b[1] * x) + b[2] * std::exp(-b[3] * x) +
                           b[4] * std::exp(-b[5] * x);
                  },
              .starts = {{1.2, 0.3, 5.6, 5.5, 6.5, 7.6}, {0.5, 0.7, 3.6, 4.2, 4.0, 6.3}},
              .values = {8.6816414977e-2, 9.5498101505e-1, 8.4400777463e-1, 2.9515951832,
                         1.5825685901, 4.9863565084},
              .errors = {1.7197908859e-2, 9.7041624475e-2, 4.1488663282e-2, 1.0766312506e-1,
                         5.8371576281e-2, 3.4436403035e-2},
              .residual_sum = 1.6117193594e-8};
  for (std::size_t k = 0; k < c.y.size(); ++k) c.x.push_back(0.05 * double(k));
  expect_certified(c, 1e-6);
}

// [NIST-StRD] BoxBOD, the data and certified values from memory, near start.
TEST(LeastSquares, reaches_the_certified_values_of_BoxBOD) {
  expect_certified({.x = {1, 2, 3, 5, 7, 10},
                    .y = {109, 149, 149, 191, 213, 224},
                    .model = [](auto b, double x) { return b[0] * (1.0 - std::exp(-b[1] * x)); },
                    .starts = {{100.0, 0.75}},
                    .values = {2.1380940889e2, 5.4723748542e-1},
                    .errors = {1.2354515176e1, 1.0455993237e-1},
                    .residual_sum = 1.1680088766e3},
                   1e-6);
}

std::vector<std::vector<double>> columns_of(const support::fs::path& path, std::size_t n) {
  std::vector<std::vector<double>> columns(n);
  std::ifstream in(path);
  std::string line;
  std::getline(in, line);
  while (std::getline(in, line)) {
    std::istringstream fields(line);
    std::string field;
    for (std::size_t k = 0; k < n && std::getline(fields, field, ','); ++k)
      columns[k].push_back(base::parse_number(base::trimmed(field)).value());
  }
  return columns;
}

// Peaks of the averaged branch, computed elsewhere from the same open data: 3.210, 3.30 and
// 3.338 to 3.342 V (and a shoulder at 3.279 V). [Sunil2025]
TEST(IncrementalCapacity, finds_the_published_peaks) {
  const auto data = support::open_data("04-ocv-lfp18650-c32");
  NEEDS_OPEN_DATA(data);
  const auto table = columns_of(data / "ocv.csv", 2);
  const auto peaks = bench::incremental_peaks(bench::incremental_capacity(table[0], table[1]));
  ASSERT_EQ(peaks.size(), 3u);
  EXPECT_NEAR(peaks[0].voltage_V, 3.340, 0.003);
  EXPECT_NEAR(peaks[1].voltage_V, 3.300, 0.003);
  EXPECT_NEAR(peaks[2].voltage_V, 3.210, 0.003);
}

logs::Log log_of(const support::fs::path& path) {
  return std::get<logs::Log>(logs::read_log(support::read(path)));
}

// Slow charge and discharge of the same cell: 2.583344 and 2.578240 Ah by an independent trapezoid
// over every row; the files here hold every tenth. [Aloisio2021]
TEST(OpenLogs, give_the_slow_capacity_from_every_tenth_row) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  const auto charge = bench::measure(log_of(data / "csv" / "ocv_25C_charge_every10th.csv"), {}),
             discharge =
                 bench::measure(log_of(data / "csv" / "ocv_25C_discharge_every10th.csv"), {});
  EXPECT_NEAR(charge.measures.totals.charged_Ah, 2.583344, 0.001 * 2.583344);
  EXPECT_NEAR(discharge.measures.totals.discharged_Ah, 2.578240, 0.001 * 2.578240);
  EXPECT_GE(charge.measures.peaks.size(), 2u);
  EXPECT_LT(discharge.measures.peaks.at(0).voltage_V, charge.measures.peaks.at(0).voltage_V);
}

// The counter of the cycler itself: 2.447218 Ah in the 2C charge, part at constant current
// 2.309954 Ah. [Aloisio2021]
TEST(OpenLogs, compare_the_counter_and_cut_the_phases_of_a_charge) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  const logs::Log log = log_of(data / "csv" / "cccv_2C.csv");
  EXPECT_NEAR(log.counter_Ah, 2.447218, 1e-4);
  const bench::Report report = bench::measure(log, {});
  double constant_current = 0.0;
  for (const bench::Phase& p : report.phases)
    if (p.mode == bench::Mode::constant_current) constant_current += p.charge_Ah;
  EXPECT_NEAR(constant_current, 2.309954, 0.002 * 2.309954);
  ASSERT_TRUE(report.measures.tail_charge_Ah);
  EXPECT_NEAR(report.measures.tail_charge_Ah->value, 2.446510 - 2.309954, 0.006);
}

// Hourly middle of a parked bank, 24 December to 11 January: least squares −0.6105 mV a day,
// computed independently from the same file. [Collis2026]
TEST(RestDrift, agrees_with_an_independent_straight_line) {
  const auto data = support::open_data("07-bank-storage-log");
  NEEDS_OPEN_DATA(data);
  std::ifstream in(data / "raw" / "bank12v_hourly_minmax.csv");
  std::string line;
  std::getline(in, line);
  logs::Log log;
  while (std::getline(in, line)) {
    int day = 0, month = 0, year = 0, hour = 0;
    double low = 0.0, high = 0.0;
    if (std::sscanf(line.c_str(), "%d/%d/%d,%d:%*d,%lf,%lf", &day, &month, &year, &hour, &low,
                    &high) != 6)
      continue;
    const int number = year == 2025 && month == 12 && day >= 24  ? day - 24
                       : year == 2026 && month == 1 && day <= 11 ? day + 7
                                                                 : -1;
    if (number < 0) continue;
    log.time_s.push_back(number * 86400.0 + hour * 3600.0);
    log.voltage_V.push_back(0.5 * (low + high));
    log.current_A.push_back(0.0);
  }
  ASSERT_GT(log.rows(), 400u);
  bench::Rest rest;
  rest.seconds = log.time_s.back();
  rest.last = log.rows() - 1;
  const auto drift = bench::rest_drift(log, rest, 0.0).value();
  EXPECT_NEAR(drift.mV_per_day, -0.6105, 0.01);
  EXPECT_GT(drift.u_mV_per_day, 0.0);
}

// A model fitted to the slow runs and the pulses of one cell, then a drive cycle of the same cell
// played on it. The target of 15 mV is not reached yet: R1 and R2 are the same at every charge
// here.
TEST(FittedCell, follows_the_slow_runs_and_the_pulses_it_was_fitted_to) {
  const auto data = support::open_data("01-lfp26650-lab");
  NEEDS_OPEN_DATA(data);
  const logs::Log down = log_of(data / "csv" / "ocv_25C_discharge_every10th.csv"),
                  up = log_of(data / "csv" / "ocv_25C_charge_every10th.csv"),
                  pulses = log_of(data / "csv" / "pulses.csv"),
                  drive = log_of(data / "csv" / "udds_25C.csv");
  const std::vector<bench::FitLog> logs = {{&down, 1.0}, {&up, 0.005}, {&pulses, 1.0}};
  const auto result = bench::fit_cell(logs, 2.590596);
  ASSERT_TRUE(std::holds_alternative<bench::FittedCell>(result));
  const auto& cell = std::get<bench::FittedCell>(result);
  EXPECT_LT(cell.residual_rms_mV, 8.0);
  // Row to row, 541 jumps of the pulses show a median of 7.607 mΩ (10 to 90 %: 7.18 to 7.76).
  EXPECT_NEAR(cell.r0_mOhm.value, 7.3, 0.6);
  const std::vector<double> volts = bench::replay(cell, {&drive, 1.0});
  double squares = 0.0, n = 0.0;
  for (std::size_t k = 0; k < volts.size(); ++k)
    if (std::isfinite(volts[k])) squares += std::pow(volts[k] - drive.voltage_V[k], 2), n += 1.0;
  const double rms_mV = 1e3 * std::sqrt(squares / n);
  RecordProperty("drive_rms_mV", fmt::format("{:.1f}", rms_mV));
  EXPECT_LT(rms_mV, 32.0);
}

}  // namespace
