// SPDX-License-Identifier: Apache-2.0
// A store as the house sees it: its limits and what it loses.
#pragma once

namespace site {

/// What a converter and the cells behind it lose at a power p of its rating: rated · (k0 + k1·p +
/// k2·p²). [SchmidtSauer1996] for the inverter; the cells' resistance adds to k2.
struct Loss {
  double k0 = 0.0, k1 = 0.0, k2 = 0.0;
  /// The same share at every power: of what leaves, `efficiency` arrives.
  [[nodiscard]] static Loss charging(double efficiency) { return {0.0, 1.0 - efficiency, 0.0}; }
  [[nodiscard]] static Loss discharging(double efficiency) {
    return {0.0, 1.0 / efficiency - 1.0, 0.0};
  }
  /// Loss over power at a share p of the rating, 0 < p ≤ 1.
  [[nodiscard]] double share_at(double p) const { return k0 / p + k1 + k2 * p; }
};
/// The three that give these efficiencies at a tenth, a half and the whole of the rating, exactly.
[[nodiscard]] Loss loss_through(double at_tenth, double at_half, double at_full);

struct Store {
  double usable_kWh = 10.0;                    ///< between empty and full as they are set
  double charge_kW = 5.0, discharge_kW = 5.0;  ///< at the house's side; ratings of the losses too
  Loss charging = Loss::charging(0.95), discharging = Loss::discharging(0.95);
  double standby_kW = 0.0;   ///< that converter and BMS draw from the house, always
  double reserve_kWh = 0.0;  ///< kept for an outage
  double start_kWh = 0.0;
};

}  // namespace site
