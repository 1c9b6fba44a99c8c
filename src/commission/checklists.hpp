// SPDX-License-Identifier: Apache-2.0
// The texts of the checklists and cautions: what to do in which order, and what can hurt.
#pragma once

#include <span>
#include <string_view>

#include "findings/finding.hpp"

namespace commission {

/// What is written down beside a step, and so can be held against what it should be.
enum class Reading {
  none,
  supply_open_V,       ///< of the bench supply, before it touches a cell
  between_cells_mV,    ///< the most, from the first plus to any other, before they are joined
  spread_at_top_mV,    ///< between the cells, full and rested
  pack_V,              ///< of one pack, plus against minus
  pack_difference_mV,  ///< between packs that are about to be joined
  precharge_left_V,    ///< across the open contactor when the precharge has ended
  trip_high_V,         ///< of a cell, at which the BMS opened
  trip_low_V,
  trip_cold_C,  ///< at which charging stopped
  capacity_Ah,  ///< of the bank, from full to the inverter's stop
  round_trip_percent,
  standby_W,       ///< drawn with nothing on
  warmest_joint_K  ///< above the air, after half an hour of full load
};

/// What holds a step: findings that must not stand as a caution or a stop; or any at all that says
/// stop.
struct Held {
  std::span<const findings::Id> ids = {};
  bool any_stop = false;
  [[nodiscard]] constexpr bool nothing() const { return ids.empty() && !any_stop; }
};

struct CheckStep {
  std::string_view id;    ///< "first-power/polarity": stays the same when texts are mended
  std::string_view text;  ///< {fifth}, {tenth}, {tail}: amperes of this bank, put in by `works`
  Reading reading = Reading::none;
  Held held_by = {};
  bool needs_note = false;      ///< what opened, and after how long
  std::string_view after = {};  ///< steps that must be signed before; of each pack where they are
};

struct Checklist {
  std::string_view title;
  std::string_view when;
  bool each_pack = false;
  std::span<const CheckStep> steps;
};

[[nodiscard]] std::span<const Checklist> checklists();
/// Cautions for a whole installation, the gravest first.
[[nodiscard]] std::span<const std::string_view> cautions();
/// What a stranger must do, for the card by the door.
[[nodiscard]] std::span<const std::string_view> emergency_steps();
/// Said wherever a number could hurt someone.
inline constexpr std::string_view defer =
    "Local electrical, building and fire codes and licensed practice govern; nothing printed here "
    "replaces them.";

}  // namespace commission
