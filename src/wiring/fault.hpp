// SPDX-License-Identifier: Apache-2.0
// Fault current and what must stop it; filling a capacitor; joining packs at unequal voltage.
#pragma once

#include <span>

#include "base/quantity.hpp"

namespace wiring {

/// Current of a dead short: open-circuit voltage over the loop's resistance, times the packs that
/// feed it.
[[nodiscard]] base::Amps fault_current(base::Volts open_circuit, base::Ohms loop, int packs);

/// Packs whose current one device must be able to break: a pack's own fuse meets its own pack
/// (fault on the bus) or all the others (fault on its own lead); the main device meets them all.
[[nodiscard]] int packs_met_by_pack_fuse(int packs);

struct Precharge {
  base::Seconds time_constant, time;
  base::Amps peak_current;
  base::Watts peak_power;
  base::WattHours energy;  ///< taken up by the resistor, and the same by the capacitor
  base::Volts remaining;   ///< left across the contactor when it closes
};
/// Filling a capacitor through a resistor up to a share 0…1 (below 1) of the voltage.
[[nodiscard]] Precharge precharge(base::Volts voltage, base::Farads capacitance,
                                  base::Ohms resistance, double target);

/// Current at the moment two packs of unequal voltage are joined.
[[nodiscard]] base::Amps joining_current(base::Volts difference, base::Ohms path);

/// Preferred fuse ratings, A. [IEC60269-1], from memory
[[nodiscard]] std::span<const double> fuse_ratings_A();
/// The smallest preferred rating that carries this current, or zero where none does.
[[nodiscard]] base::Amps smallest_fuse_for(base::Amps current);

}  // namespace wiring
