// SPDX-License-Identifier: Apache-2.0
// Readings that are there but are not true: spikes, jumps that no cell makes, sensors that stick.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>
#include <vector>

#include "logs/log.hpp"

namespace logs {

/// Why a row is not used.
enum class Dirt : std::uint8_t {
  none,
  impossible,     ///< outside what a single cell and its tester can show: a mark for "no value"
  voltage_jump,   ///< a voltage that no cell reaches in one row
  voltage_spike,  ///< one row, at a steady current
  current_spike,  ///< one row that the voltage does not answer
};
[[nodiscard]] std::string_view reason(Dirt dirt);

/// Finds dirt batch by batch; what is usual in the log it learns as it goes, from the first batch
/// on.
class DirtFinder {
 public:
  /// One entry a row, in order. Current in A of either sign (or none), voltage in V. The first and
  /// the last row of a batch are never spikes.
  [[nodiscard]] std::span<const Dirt> find(std::span<const double> voltage_V,
                                           std::span<const double> current_A);

 private:
  void learn(std::span<const double> voltage_V, std::span<const double> current_A);
  void find_among_possible(std::span<const double> voltage_V, std::span<const double> current_A);
  double top_A_ = 0.0;   ///< usual largest current
  double step_V_ = 0.0;  ///< resolution
  double noise_V_ = 0.0;
  double ohm_ = 0.0;  ///< with which the voltage answers from row to row; zero: not seen yet
  std::size_t batches_ = 0;
  std::vector<Dirt> dirt_;
  std::vector<double> voltage_, current_;
  std::vector<std::size_t> row_;
};

/// Smallest difference between one value and the next that differs; zero where all are equal.
[[nodiscard]] double resolution(std::span<const double> values);

/// Seconds during which a sensor gave one value though the other moved as it cannot alone, or
/// though charge moved that no cell takes at one voltage.
struct Stuck {
  double voltage_s = 0.0, current_s = 0.0;
  std::size_t voltage_row = 0, current_row = 0;  ///< where the first begins
};
/// Current discharge positive.
[[nodiscard]] Stuck find_stuck(const Log& log);

/// The 99th percentile of the sizes, or the largest where that is zero.
[[nodiscard]] double usual_top(std::span<const double> values);

}  // namespace logs
