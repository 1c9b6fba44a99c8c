// SPDX-License-Identifier: Apache-2.0
// What the errors of several measures have in common: one tester's gain is wrong for all its cells
// alike.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "bench/uncertainty.hpp"

namespace bench {

/// A capacity's uncertainty in two parts: what is common to all tests on one channel (gain, offset,
/// clock), and what each test has of its own.
struct SplitMeasure {
  double value = 0.0;
  double common_u = 0.0, own_u = 0.0;
  std::string channel = {};  ///< tests on one channel share `common_u`; empty is a channel too
};
/// From the lines of a budget. [JCGM100] 5.2.4: what comes from one instrument is correlated.
[[nodiscard]] SplitMeasure split(double value, std::span<const BudgetLine> budget,
                                 std::string channel = "");

/// The sum of measures, each times its weight, with its standard uncertainty: own parts add in
/// squares, the common part of a channel adds as it is. [JCGM100] equation 13 with r = 1 within a
/// channel and 0 between. `weights` empty: all one.
[[nodiscard]] Measure sum_of(std::span<const SplitMeasure> cells,
                             std::span<const double> weights = {});

/// a − b: what is common to both goes away as far as it is the same.
[[nodiscard]] Measure difference_of(const SplitMeasure& a, const SplitMeasure& b);

}  // namespace bench
