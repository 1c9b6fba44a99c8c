// SPDX-License-Identifier: Apache-2.0
// Several tests of one cell: which counts, which disagree, and how well tests repeat.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bench/uncertainty.hpp"

namespace bench {

/// One test of a cell, as its log gives it.
struct CellTest {
  std::string log;                     ///< the log's name
  std::optional<double> ended_s = {};  ///< since 1970, where the log has dates
  std::optional<Measure> capacity_Ah;  ///< none: the test is not complete
  std::string channel = {};
};

/// Two complete tests that differ by more than their uncertainties allow.
struct Disagreement {
  std::size_t first = 0, second = 0;
  double difference_Ah = 0.0, allowed_Ah = 0.0;
};

struct ChosenTest {
  std::size_t index = 0;
  std::string rule;  ///< why this one, in words
  std::vector<Disagreement> disagreements;
};

/// The test that counts: the one that the builder picked; else the newest complete one, by the
/// dates in the logs where all complete ones have one, else by the names' order (numbers in them
/// count as numbers). Where none is complete, the newest. Disagreements are told at two standard
/// uncertainties of the difference. Nothing for no test.
[[nodiscard]] std::optional<ChosenTest> choose_test(std::span<const CellTest> tests,
                                                    const std::string& picked = "");

/// Standard deviation of one test repeated, percent, from pairs of complete tests of the same cell
/// on the same channel: the root of half the mean square of their relative differences. Nothing for
/// fewer than three pairs.
[[nodiscard]] std::optional<double> repeatability_percent(
    std::span<const std::vector<CellTest>> cells);

}  // namespace bench
