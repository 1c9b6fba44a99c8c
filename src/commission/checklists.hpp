// SPDX-License-Identifier: Apache-2.0
// The texts of the checklists and cautions: what to do in which order, and what can hurt.
#pragma once

#include <span>
#include <string_view>

namespace commission {

struct Checklist {
  std::string_view title;
  std::string_view when;
  std::span<const std::string_view> steps;
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
