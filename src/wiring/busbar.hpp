// SPDX-License-Identifier: Apache-2.0
// Copper bars: resistance and the current that they may carry.
#pragma once

#include <optional>
#include <span>

#include "base/quantity.hpp"

namespace wiring {

/// One bar of DIN 43671: indoors, air at 35 °C, bar at 65 °C, on edge, one a pole, bare copper.
/// [DIN43671] values from memory; checked against [CDA-bars] (tests/outside).
struct Bar {
  double width_mm, thickness_mm, bare_A, painted_A;
};
[[nodiscard]] std::span<const Bar> bars();

/// What a bare bar of the table may carry with bar and air at these temperatures; nothing for a
/// size that is not in it or temperatures that are not (air 20…50, bar 50…90 °C). k2 of [DIN43671],
/// straight between the table's points.
[[nodiscard]] std::optional<base::Amps> bar_ampacity(double width_mm, double thickness_mm,
                                                     base::Temperature bar, base::Temperature air);

/// Of a metre of bar at a temperature, without holes: ρ/(w·t).
[[nodiscard]] base::OhmsPerMetre bar_resistance(double width_mm, double thickness_mm,
                                                base::Temperature temperature);

}  // namespace wiring
