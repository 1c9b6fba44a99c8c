// SPDX-License-Identifier: Apache-2.0
#include "bank/figures.hpp"

#include "base/check.hpp"
#include "cell/chemistry.hpp"

namespace bank {

Figures figures(int packs, int series, int parallel, base::AmpHours capacity,
                base::Volts cell_nominal, base::Volts cell_min, base::Volts cell_max,
                base::Watts power) {
  CHECK(packs >= 1 && series >= 1 && parallel >= 1 && capacity.si() > 0.0 &&
        cell_nominal.si() > 0.0);
  Figures f;
  f.nominal = cell_nominal * double(series);
  f.min = cell_min * double(series);
  f.max = cell_max * double(series);
  f.energy = f.nominal * capacity * double(packs * parallel);
  f.current = power / f.nominal;
  f.cell_current = f.current / double(packs * parallel);
  f.c_rate = f.cell_current.in(base::units::A) / capacity.in(base::units::Ah);
  return f;
}

base::Ohms path_resistance(const layout::Layout& l) {
  const int links = l.series - 1;
  return l.link * double(links) + l.joint * double(2 * links + 2) + l.pack_extra;
}

base::Ohms pack_resistance(const layout::Layout& l, base::Ohms cell) {
  return cell * (double(l.series) / l.parallel) + path_resistance(l) + l.lead * 2.0;
}

ResistanceEnds resistance_ends(const cell::Datasheet& sheet) {
  const base::Ohms dc = sheet.dc_resistance.value;
  const double cold = cell::resistance_factor(base::Temperature::from_C(0.0));
  return {sheet.ac_resistance ? sheet.ac_resistance->value : dc / 2.5, dc * 2.0 * cold};
}

}  // namespace bank
