// SPDX-License-Identifier: Apache-2.0
// What a bank is, in figures: voltages, energy, currents, mass, resistance.
#pragma once

#include "base/quantity.hpp"
#include "cell/datasheet.hpp"
#include "layout/layout.hpp"

namespace bank {

struct Figures {
  base::Volts nominal, min, max;
  base::WattHours energy;
  base::Amps current, cell_current;
  double c_rate = 0.0;
};

/// From counts, one cell's capacity and voltages, and the design power at the bus. The current is
/// that at nominal voltage: power / (series · nominal). Requires counts >= 1.
[[nodiscard]] Figures figures(int packs, int series, int parallel, base::AmpHours capacity,
                              base::Volts cell_nominal, base::Volts cell_min, base::Volts cell_max,
                              base::Watts power);

/// What a pack's current passes beside its cells: links, joints, BMS and fuse; no leads. Two joints
/// a link and one at either end of the pack.
[[nodiscard]] base::Ohms path_resistance(const layout::Layout& layout);
/// Resistance of one pack's loop at the bus: cells, links, joints, BMS and fuse, both leads.
[[nodiscard]] base::Ohms pack_resistance(const layout::Layout& layout, base::Ohms cell);

/// The cell resistances that bracket a fault: low for the largest current (new, warm, 1 kHz), high
/// for the smallest (aged, cold, DC).
struct ResistanceEnds {
  base::Ohms low, high;
};
/// Without a 1 kHz value the low end is the DC value over 2.5 (DC is 1.5 to 2.5 times AC, from
/// memory). The high end is twice the DC value (end of life) at 0 °C.
[[nodiscard]] ResistanceEnds resistance_ends(const cell::Datasheet& sheet);

}  // namespace bank
