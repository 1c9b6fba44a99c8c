// SPDX-License-Identifier: Apache-2.0
// Which cell goes where: K packs of S groups of P cells out of N, with proof or an honest gap.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "match/search.hpp"

namespace match {

/// What counts about a cell here. Resistance and leak order equal answers; all but the capacity
/// serve later aims.
struct Candidate {
  std::string label;
  base::AmpHours capacity;
  double resistance_mOhm = 0.0;
  double leak_mA = 0.0;
  double tail_share = 0.0;  ///< of a full charge, what flows at constant voltage
};

struct Shape {
  int packs = 1, series = 16, parallel = 1;
  [[nodiscard]] std::size_t places() const {
    return static_cast<std::size_t>(packs) * static_cast<std::size_t>(series) *
           static_cast<std::size_t>(parallel);
  }
};

enum class Aim {
  most_energy,  ///< largest sum of the packs' capacities
  even_packs    ///< largest smallest pack, then the most energy
};

struct Group {
  base::AmpHours capacity;
  std::vector<std::size_t> cells;  ///< indices into the candidates
};
struct Pack {
  base::AmpHours capacity;  ///< of its smallest group
  std::vector<Group> groups;
};

struct Assignment {
  Aim aim = Aim::most_energy;
  std::vector<Pack> packs;          ///< largest first
  std::vector<std::size_t> spares;  ///< best first
  base::AmpHours bank_capacity;     ///< sum of the packs
  base::AmpHours smallest_pack;
  base::AmpHours upper_bound;   ///< of the chosen aim; no assignment exceeds it
  double gap = 0.0;             ///< (bound − value) / bound
  bool proven_optimal = false;  ///< the bound is met
  std::string method;           ///< how it was found, in words
  bool stopped = false;         ///< told to stop before the search was done
};

/// Requires at least as many candidates as places, all capacities positive. Deterministic for a
/// seed and a number of moves.
///
/// P = 1: exact for both aims. The best K·S cells, sorted, cut into K blocks of S: the j-th largest
/// of any packs' minima cannot exceed the (j·S)-th largest cell, and the blocks reach that for
/// every j at once. P = 2 and even packs: exact in the smallest pack. The best 2·K·S cells, best
/// with worst: exchanging the partners of any other pairing never lowers its smallest sum. Small
/// lots of any P: every partition. Otherwise fold, emptiest first or blocks, then annealing,
/// against a bound.
[[nodiscard]] Assignment assign(const std::vector<Candidate>& candidates, Shape shape, Aim aim,
                                const Effort& effort = {});

/// What the first aim counts: the bank, or the smallest pack.
[[nodiscard]] base::AmpHours value_of(const Assignment& assignment);
/// Adds groups, packs and bank up afresh from the cells that stand in them, and the gap to the
/// bound where there is one. Whether that proves anything is left as it is.
void add_up(Assignment& assignment, const std::vector<Candidate>& candidates);

/// The packs of no assignment hold more together. With m_1 ≥ m_2 ≥ … their smallest groups: each
/// m_j is at most what bounds the smallest of j·S groups, since the j best packs hold that many;
/// and the first j together at most what the best j·S·P cells hold, over S, since S groups sum to
/// at least S times their smallest. Any split of the packs between the two kinds is a bound; the
/// least counts. P = 1: reached. `capacities` sorted, largest first.
[[nodiscard]] double most_energy_bound(const std::vector<double>& capacities, Shape shape);

/// The smallest group of any assignment cannot exceed this: with the j largest cells (and at most j
/// groups that hold them) set aside, the mean of the rest bounds the smallest; the least over all
/// j. `capacities` sorted, largest first.
[[nodiscard]] double smallest_group_bound(const std::vector<double>& capacities, std::size_t groups,
                                          std::size_t parallel);

}  // namespace match
