// SPDX-License-Identifier: Apache-2.0
// How many to order where rejects come in clusters: cells of one lot are good or bad together.
#pragma once

#include <span>
#include <vector>

namespace money {

/// Rejects of a lot: each lot has its own share, beta-distributed with this mean and a correlation
/// between any two cells of a lot. Correlation 0: independent. [Griffiths1973] for the use; 0.05
/// without own lots is judgement.
struct Rejects {
  double share = 0.03;        ///< 0…1, mean
  double correlation = 0.05;  ///< 0 ≤ … < 1
};

/// P(k good of n), k from 0 to n.
[[nodiscard]] std::vector<double> good_of(int n, const Rejects& rejects);

/// The same for cells from several lots that know nothing of each other.
[[nodiscard]] std::vector<double> good_of_lots(std::span<const int> lots, const Rejects& rejects);

struct ClusteredOrder {
  int order = 0;
  double odds = 0.0;  ///< that so many suffice
  double odds_if_independent = 0.0;
  double expected_short = 0.0;  ///< cells missing, on the mean
  double expected_spare = 0.0;  ///< good cells too many, on the mean
};
/// What an order in so many lots (as even as can be) brings. Requires order >= 1, 1 <= lots <=
/// order.
[[nodiscard]] ClusteredOrder order_of(int needed, int order, const Rejects& rejects, int lots = 1);
/// The smallest order that suffices with these odds; the largest looked at is four times `needed`
/// and 40, where `odds` says what it reaches.
[[nodiscard]] ClusteredOrder order_for(int needed, double odds, const Rejects& rejects,
                                       int lots = 1);

/// A lot received: how many, and how many of them were rejected.
struct LotSeen {
  int cells = 0, rejects = 0;
};
/// What own lots teach (Bayes on a grid): before, a share about `before.share` (as one lot of 20
/// cells would say it) and a correlation spread about `before.correlation` (exponential).
[[nodiscard]] Rejects learnt(std::span<const LotSeen> lots, const Rejects& before = {});

}  // namespace money
