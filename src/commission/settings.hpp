// SPDX-License-Identifier: Apache-2.0
// Settings of charger, inverter and BMS in layers that cannot fight, and the checker that holds any
// set of limits to that order.
#pragma once

#include <string>
#include <vector>

#include "base/quantity.hpp"
#include "cell/datasheet.hpp"
#include "findings/finding.hpp"
#include "layout/layout.hpp"

namespace commission {

/// One line of the settings sheet.
struct Setting {
  std::string device;  ///< "Charger", "Inverter", "BMS of each pack", "Balancer"
  std::string name;
  std::string value;     ///< as it is typed into the device, with its unit
  std::string per_cell;  ///< the same for one cell; empty where that makes no sense
  std::string reason;
  std::string basis;
};

/// What else is set on devices, beside limits.
struct Habits {
  bool equalise = false;
  double compensation_mV_K = 0.0;
  base::Seconds absorption = 0.5 * base::units::h;
  bool balances_always = false;  ///< not only while charging
  enum class Sensor { cell, wall, not_said } sensor = Sensor::cell;
};

/// What fuses and cable let the devices draw for ever; the settings never ask for more.
struct Carrying {
  base::Amps pack_fuse, main_fuse, main_run;
  base::Amps bms = {};  ///< rating of a pack's BMS; zero: not known
  /// Continuous current with a quarter in hand (common practice, no source).
  [[nodiscard]] base::Amps pack() const {
    return bms.si() > 0.0 && bms < pack_fuse * 0.8 ? bms : pack_fuse * 0.8;
  }
  [[nodiscard]] base::Amps bank(int packs) const;
};

/// The sheet for a pack of `series` groups. Currents are the least of what the cells may take and
/// what fuses and cable carry.
[[nodiscard]] std::vector<Setting> settings_sheet(const cell::Datasheet& sheet,
                                                  const layout::Layout& layout,
                                                  const layout::Limits& limits,
                                                  base::AmpHours cell_capacity,
                                                  const Carrying& carrying);

/// Holds the limits to the order in which they must act: the charger tapers before the inverter
/// stops the charge, that before the BMS opens; the inverter stops before the BMS opens on the low
/// side, sag included; releases on the right side; balancing starts in the steep part; no charging
/// in the cold. `sag` is what one cell's voltage falls by at the design current.
[[nodiscard]] std::vector<findings::Finding> check_settings(const cell::Datasheet& sheet,
                                                            const layout::Layout& layout,
                                                            const layout::Limits& limits,
                                                            base::Volts sag,
                                                            const Habits& habits = {});

}  // namespace commission
