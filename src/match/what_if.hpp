// SPDX-License-Identifier: Apache-2.0
// What an assignment is worth beside others, and what a change of it would do.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "match/match.hpp"

namespace match {

/// An assignment in figures.
struct Standing {
  base::AmpHours bank, smallest_pack;
  /// Each pack's capacity times its groups: what energy goes with, whatever the layout.
  base::AmpHours through_groups;
  std::size_t weakest_pack = 0, weakest_group = 0;  ///< the smallest group of all
  double resistance_spread = 0.0;  ///< standard deviation within groups over their mean, on average
  double leak_spread_mA = 0.0;     ///< highest less lowest within a pack, on average
  double tail_spread = 0.0;        ///< of `tail_share`, likewise
};
[[nodiscard]] Standing standing_of(const Assignment& assignment,
                                   const std::vector<Candidate>& candidates);

/// The assignment with two cells exchanged; either may be a spare. Capacities, packs and spares are
/// kept as they are otherwise. Requires both to be in it.
[[nodiscard]] Assignment with_exchange(Assignment assignment,
                                       const std::vector<Candidate>& candidates, std::size_t a,
                                       std::size_t b);
/// The assignment without one cell, the best spare in its place. Requires a spare.
[[nodiscard]] Assignment without(Assignment assignment, const std::vector<Candidate>& candidates,
                                 std::size_t cell);

/// The same cells in another layout, at once: built, but searched only briefly, so that it answers
/// while a person waits.
/// Nothing where the cells that are left after `kept_out` are too few.
[[nodiscard]] std::optional<Assignment> in_layout(const std::vector<Candidate>& candidates,
                                                  Shape shape, Aim aim,
                                                  const std::vector<std::size_t>& kept_out = {});

/// What a change does, before and after.
struct Effect {
  Standing before, after;
  double bank_change_Ah = 0.0;
  double energy_change = 0.0;                    ///< as a share: −0.01 is one percent less
  double years_before = 0.0, years_after = 0.0;  ///< to end of life; zero where nobody was asked
};
/// `years`: how long a bank of that standing lasts, where somebody knows; ageing is not known here.
[[nodiscard]] Effect effect_of(const Assignment& before, const Assignment& after,
                               const std::vector<Candidate>& candidates,
                               const std::function<double(const Standing&)>& years = {});

/// The bank of cells picked at random, and of cells merely sorted: neighbours into groups, groups
/// in order into packs.
struct Alternatives {
  double random_mean_Ah = 0.0, random_low_Ah = 0.0, random_high_Ah = 0.0;  ///< 5 and 95 %
  double sorted_Ah = 0.0;
  std::size_t draws = 0;
};
[[nodiscard]] Alternatives alternatives(const std::vector<Candidate>& candidates, Shape shape,
                                        std::size_t draws = 10000, std::uint64_t seed = 1);

/// How an assignment stands up to what the measurements leave open.
struct Robustness {
  double expected_Ah = 0.0, sd_Ah = 0.0;  ///< of the bank, over the true capacities
  /// Chance that it is within a thousandth of the best that the true capacities allow (of its bound
  /// where groups hold several cells, so at least that).
  double near_best = 0.0;
  std::size_t retest = 0;     ///< the cell whose error moves the loss most
  double retest_share = 0.0;  ///< of the loss's variance that goes with that cell's error; 0…1
};
/// True capacities are drawn around the measured ones, normal, `u_Ah` each (one a candidate).
[[nodiscard]] Robustness robustness(const Assignment& assignment,
                                    const std::vector<Candidate>& candidates,
                                    const std::vector<double>& u_Ah, Shape shape,
                                    std::size_t draws = 400, std::uint64_t seed = 1);

}  // namespace match
