// SPDX-License-Identifier: Apache-2.0
#include "wiring/fault.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.hpp"

namespace wiring {
namespace {
constexpr std::array<double, 19> ratings = {16,  20,  25,  32,  40,  50,  63,  80,  100, 125,
                                            160, 200, 250, 315, 400, 500, 630, 800, 1000};
}

base::Amps fault_current(base::Volts open_circuit, base::Ohms loop, int packs) {
  CHECK(loop.si() > 0.0 && packs >= 1);
  return open_circuit / loop * double(packs);
}

int packs_met_by_pack_fuse(int packs) { return std::max(1, packs - 1); }

Precharge precharge(base::Volts voltage, base::Farads capacitance, base::Ohms resistance,
                    double target) {
  CHECK(target > 0.0 && target < 1.0 && resistance.si() > 0.0);
  const base::Seconds tau = resistance * capacitance;
  return {tau,
          tau * -std::log(1.0 - target),
          voltage / resistance,
          voltage * voltage / resistance,
          capacitance * voltage * voltage * 0.5,
          voltage * (1.0 - target)};
}

base::Amps joining_current(base::Volts difference, base::Ohms path) {
  CHECK(path.si() > 0.0);
  return difference / path;
}

std::span<const double> fuse_ratings_A() { return ratings; }

base::Amps smallest_fuse_for(base::Amps current) {
  for (const double rating : ratings)
    if (rating * base::units::A >= current) return rating * base::units::A;
  return {};
}

}  // namespace wiring
