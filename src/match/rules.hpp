// SPDX-License-Identifier: Apache-2.0
// What a builder may demand of an assignment, and later aims that give nothing of the first away.
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <variant>
#include <vector>

#include "match/match.hpp"

namespace match {

/// A cell that must stand in one pack, and in one of its groups where that is said.
struct Fixed {
  std::size_t cell = 0;
  int pack = 0;
  int group = -1;  ///< counted from the pack's minus, from 0; −1: any
};

/// What the cells in a place must hold at least: a pack, or one of its groups.
struct PlaceLeast {
  int pack = 0;
  int group = -1;  ///< −1: the whole pack
  base::AmpHours capacity;
};

enum class Lots {
  free,
  together_in_pack,  ///< every pack holds cells of one lot
  apart_in_group     ///< no group holds two cells of one lot
};

struct Rules {
  std::vector<Fixed> fixed;
  std::vector<std::size_t> kept_out;  ///< not placed and no spare
  base::AmpHours least_capacity;      ///< of a placed cell; zero: none
  std::vector<PlaceLeast> place_least;
  std::size_t spares = 0;         ///< that must stay
  base::AmpHours spare_capacity;  ///< which each of them must hold at least
  Lots lots = Lots::free;
  std::vector<std::string> lot_of;  ///< one a candidate, where lots count
  [[nodiscard]] bool none() const {
    return fixed.empty() && kept_out.empty() && least_capacity.si() <= 0.0 && place_least.empty() &&
           spares == 0 && lots == Lots::free;
  }
};

/// Cells of an assignment that a rule on their own place holds there: fixed ones, and those in
/// places with a least capacity. Later aims leave them.
[[nodiscard]] std::vector<std::size_t> held_by_rules(const Assignment& assignment,
                                                     const Rules& rules);

/// Rules that cannot all hold, each in a sentence.
struct Conflict {
  std::vector<std::string> sentences;
  bool certain = true;  ///< false: the search found no way, which proves nothing
};

/// As `assign`, under rules. The bound is that of the cells that may be placed, without the other
/// rules: no assignment exceeds it. Packs are named, since cells may be fixed in them.
[[nodiscard]] std::variant<Assignment, Conflict> assign_under_rules(
    const std::vector<Candidate>& candidates, Shape shape, Aim aim, const Rules& rules,
    const Effort& effort = {});

/// A later aim, and how much of each aim before it may be given for it.
struct LaterAim {
  enum class Kind {
    even_resistance,  ///< least spread of resistance within groups
    even_leak,        ///< least spread of self-discharge within packs
    even_charge_top   ///< least spread, within packs, of the charge that flows at constant voltage
  } kind = Kind::even_resistance;
  double may_cost = 0.0;  ///< share of the first aim; 0.002: two thousandths
};

/// Exchanges placed cells so that the later aims get better, in their order, while the first keeps
/// what it had less what the aim may cost, and each later one keeps what it reached. Cells in
/// `locked` stay. Deterministic.
[[nodiscard]] Assignment refine(Assignment assignment, const std::vector<Candidate>& candidates,
                                const std::vector<LaterAim>& aims,
                                const std::vector<std::size_t>& locked = {},
                                const Effort& effort = {});

/// Puts the groups of lowest resistance, which warm least, into the warmest places of each pack:
/// `warmth[i]` of the i-th place from the pack's minus. Groups that hold a cell in `locked` stay.
[[nodiscard]] Assignment cool_ones_to_warm_places(Assignment assignment,
                                                  const std::vector<Candidate>& candidates,
                                                  const std::vector<double>& warmth,
                                                  const std::vector<std::size_t>& locked = {});

}  // namespace match
