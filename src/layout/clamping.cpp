// SPDX-License-Identifier: Apache-2.0
#include "layout/clamping.hpp"

#include "base/check.hpp"

namespace layout {

Clamping clamp(base::Newtons force, base::SquareMetres face, int rods, base::Metres rod_diameter,
               double nut_factor) {
  CHECK(rods >= 1 && face.si() > 0.0);
  return {force, force / face, nut_factor * rod_diameter.si() * force.si() / rods};
}

}  // namespace layout
