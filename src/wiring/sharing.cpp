// SPDX-License-Identifier: Apache-2.0
#include "wiring/sharing.hpp"

#include <cstddef>

#include "base/check.hpp"
#include "wiring/rail.hpp"

namespace wiring {

std::vector<base::Amps> share_current(std::span<const base::Ohms> packs, base::Ohms link,
                                      layout::TakeOff take_off, base::Amps total) {
  CHECK(!packs.empty());
  std::vector<RailPack> on_rail;
  for (const base::Ohms r : packs) {
    CHECK(r.si() > 0.0);
    const double own = r.si() + (take_off == layout::TakeOff::star ? 2.0 * link.si() : 0.0);
    on_rail.push_back({.source_V = 0.0, .conductance_S = 1.0 / own});
  }
  Rail rail(take_off, link.si());
  CHECK(rail.seen(on_rail.data(), on_rail.size()).live);
  rail.share(on_rail.data(), on_rail.size(), total.si());
  std::vector<base::Amps> currents;
  for (const RailPack& pack : on_rail) currents.push_back(base::Amps::from_si(pack.current_A));
  return currents;
}

}  // namespace wiring
