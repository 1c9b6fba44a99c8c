// SPDX-License-Identifier: Apache-2.0
// Where the bank stands: mass, floor, room around it, how much energy in one place.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "findings/finding.hpp"

namespace site {

/// Figures of codes and guides. They differ by country and edition: the builder's own replace them.
struct PlaceRules {
  double unit_kWh = 20.0, garage_kWh = 80.0, indoors_kWh = 40.0;
  double clearance_m = 0.9, lift_kg = 25.0, floor_kN_m2 = 2.0;
  std::string edition;  ///< empty: nobody said what they were compared with
};

struct Standing {
  std::string kind = "not-said";  ///< garage, outbuilding, outdoors, utility-room, living-space …
  int packs = 1;
  double pack_kg = 0.0, pack_kWh = 0.0, pack_area_m2 = 0.0;
  std::optional<double> clearance_m, floor_allows_kN_m2;
  std::string detector = "not-said", backing = "not-said";
};

/// Load of one pack on its own area, kN/m².
[[nodiscard]] double floor_load_kN_m2(const Standing& standing);

[[nodiscard]] std::vector<findings::Finding> check_place(const Standing& standing,
                                                         const PlaceRules& rules);

}  // namespace site
