// SPDX-License-Identifier: Apache-2.0
// The lot: how one quantity is spread over its cells, which stand out, which keep a limit.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bench/uncertainty.hpp"

namespace bench {

/// One quantity of the lot. AC and DC resistance are different quantities.
struct LotQuantity {
  std::string key;    ///< "capacity_Ah", "dc_resistance_mOhm", "ac_resistance_mOhm", …
  std::string label;  ///< as a person reads it
  std::string unit;
  std::vector<std::string> labels;  ///< of the cells that have it
  std::vector<Measure> values;      ///< u may be zero: not known
};

/// Bars of equal width over the lot's range.
struct Histogram {
  double from = 0.0, width = 0.0;
  std::vector<std::size_t> counts;
};

struct Distribution {
  std::size_t count = 0;
  double median = 0.0, mean = 0.0, sd = 0.0, mad = 0.0, lowest = 0.0, highest = 0.0;
  double measurement_u = 0.0;  ///< median of the cells' own; the spread cannot be told below it
  Histogram histogram;
};

/// By the two named tests, two-sided. [NIST-EDA]
struct Outliers {
  std::vector<std::size_t> by_grubbs;  ///< at most one; the most extreme, at alpha 0.05
  double grubbs_statistic = 0.0, grubbs_critical = 0.0;
  std::vector<std::size_t> by_median;  ///< modified z-score above 3.5
  double largest_score = 0.0;
};

[[nodiscard]] Distribution distribution_of(const LotQuantity& quantity);
/// Nothing for fewer than seven values or no spread.
[[nodiscard]] std::optional<Outliers> outliers_of(const LotQuantity& quantity);

/// A limit that the builder sets.
struct Limit {
  double value = 0.0;
  LimitSide side = LimitSide::lower;
};
/// One judgement a cell, in order, with a guard band. [JCGM106] Values of unknown uncertainty take
/// `u_where_unknown`; with zero the limit is held against the bare reading.
[[nodiscard]] std::vector<Judgement> judge_lot(const LotQuantity& quantity, const Limit& limit,
                                               double risk, double u_where_unknown);

}  // namespace bench
