// SPDX-License-Identifier: Apache-2.0
// How packs in parallel share the current while their open-circuit voltages are equal.
#pragma once

#include <span>
#include <vector>

#include "base/quantity.hpp"
#include "layout/layout.hpp"

namespace wiring {

/// Current of each pack, in the order along the bus. `link` is each rail between neighbours; for a
/// star it is each pole's lead. Kirchhoff's laws solved directly for unequal packs too. Requires
/// packs of positive resistance and link >= 0.
[[nodiscard]] std::vector<base::Amps> share_current(std::span<const base::Ohms> packs,
                                                    base::Ohms link, layout::TakeOff take_off,
                                                    base::Amps total);

}  // namespace wiring
