// SPDX-License-Identifier: Apache-2.0
// Statistics: distributions (by Boost.Math), robust location and spread, tests for outliers.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace base {

[[nodiscard]] double mean(std::span<const double> xs);
/// Standard deviation with n − 1; zero for fewer than two values.
[[nodiscard]] double standard_deviation(std::span<const double> xs);
[[nodiscard]] double median(std::span<const double> xs);
/// The q-th quantile (0…1), by straight lines between the ordered values.
[[nodiscard]] double quantile(std::span<const double> xs, double q);
/// Median of the absolute deviations from the median.
[[nodiscard]] double median_absolute_deviation(std::span<const double> xs);

[[nodiscard]] double normal_probability_below(double z);
/// P(X >= successes) for a binomial of `trials` with chance `p`.
[[nodiscard]] double binomial_at_least(int trials, double p, int successes);
/// Expected smallest of n values from a standard normal distribution (negative for n > 1), by
/// quadrature.
[[nodiscard]] double expected_minimum_of_normals(int n);

enum class Side { two, max, min };

/// Outcome of a named outlier test. [NIST-EDA]
struct OutlierTest {
  std::vector<std::size_t> outliers;  ///< indices into the values
  double statistic = 0.0;             ///< of the most extreme value
  double critical = 0.0;              ///< limit that the statistic is held against
};
/// Grubbs' test for one outlier. Needs three values or more and a spread. [NIST-EDA 1.3.5.17.1]
[[nodiscard]] OutlierTest grubbs(std::span<const double> xs, Side side, double alpha);
/// Modified z-score M = 0.6745 (x − median)/MAD against 3.5. [NIST-EDA 1.3.5.17]
/// Where MAD is zero every value that differs from the median stands out.
[[nodiscard]] OutlierTest modified_z(std::span<const double> xs, Side side = Side::two);

}  // namespace base
