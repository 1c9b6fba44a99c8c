// SPDX-License-Identifier: Apache-2.0
// Making groups of P cells whose packs, cut from the groups in order of size, hold the most: search
// by exchange, exact by exhaustion where the lot is small.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <vector>

namespace match {

/// How long a search may go on. The same seed and moves give the same answer.
struct Effort {
  std::uint64_t seed = 1;
  std::uint64_t moves = 0;  ///< zero: as many as the size asks for
  /// Called now and then with the share that is done; false stops the search with what it has.
  std::function<bool(double)> go_on = {};
};

/// What the search is judged by: packs of `series` groups, cut from the groups in order of size.
struct Grouping {
  std::size_t groups = 0, parallel = 1, series = 1;
  bool even_packs = false;  ///< the smallest group first, then the sum of the packs; else the sum
};

/// Groups as indices into the capacities. `owner[i]`: group of cell i.
struct Groups {
  std::vector<std::size_t> owner;
  std::vector<double> sum;
  bool exhausted = false;  ///< every way was tried
  bool stopped = false;    ///< told to stop before its moves were done
};

/// Sum of the packs' smallest groups, and the smallest of all.
struct Worth {
  double packs = 0.0, smallest = 0.0;
};
/// One number for a worth; of even packs the smallest group wins over the sum by far.
[[nodiscard]] double score_of(const Worth& worth, bool even_packs);
[[nodiscard]] Worth worth_of(std::vector<double> sums, std::size_t series);

/// Moves that a search of this size is given where nothing else is said.
[[nodiscard]] std::uint64_t usual_moves(std::size_t groups);

/// Every partition of the first groups × parallel capacities, where there are at most 200,000;
/// nothing (no owners) where there are more.
[[nodiscard]] Groups exhaust(const std::vector<double>& capacities, const Grouping& grouping);

/// Simulated annealing from `start`: exchanges of cells that lie close in capacity. `target`: a
/// bound of what the packs hold together; the search ends where it is met (zero: none).
/// `locked[i]`: cell i keeps its group (may be empty).
[[nodiscard]] Groups anneal(const std::vector<double>& capacities, const Grouping& grouping,
                            Groups start, double target, const std::vector<char>& locked,
                            const Effort& effort);

}  // namespace match
