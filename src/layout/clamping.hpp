// SPDX-License-Identifier: Apache-2.0
// Squeezing a row of cells between plates: force, pressure and the turning moment of the rods.
#pragma once

#include "base/quantity.hpp"

namespace layout {

struct Clamping {
  base::Newtons force;
  base::Pascals pressure;
  double torque_Nm = 0.0;  ///< on each rod
};

/// From the force on the face. T = K · d · F / rods; K ≈ 0.2 dry, with a scatter of a quarter or
/// more.
[[nodiscard]] Clamping clamp(base::Newtons force, base::SquareMetres face, int rods,
                             base::Metres rod_diameter, double nut_factor);

}  // namespace layout
