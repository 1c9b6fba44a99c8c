// SPDX-License-Identifier: Apache-2.0
// Reckonings beside the estimator: how long a cumulative sum runs, capacity between anchors with
// errors on both sides, the chance that a resistance lies outside a band.
#pragma once

#include <span>

namespace watch {

/// Average run length of a one-sided cumulative sum S ← max(0, S + z − k), alarm at S > h, for
/// normal z of sd 1 with this mean; by a Markov chain of `chain` states. [Brook1972]
[[nodiscard]] double cusum_run_length(double k, double h, double mean, int chain = 400);

/// Capacity from pairs of state-of-charge change and charge passed, both uncertain; minimises
/// Σ (y − Qx)²/(Q²σx² + σy²). [Plett2011] Equal lengths, at least one.
[[nodiscard]] double capacity_total_least_squares(std::span<const double> charge_change,
                                                  std::span<const double> passed_Ah,
                                                  double u_change, double u_Ah);

/// P(a resistance of this mean and sd lies outside centre ± band). [Schaeffer2024]
[[nodiscard]] double probability_outside(double mean, double sd, double centre, double band);

}  // namespace watch
