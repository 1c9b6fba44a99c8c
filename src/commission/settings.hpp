// SPDX-License-Identifier: Apache-2.0
// Settings of charger, inverter and BMS in layers that cannot fight, and the checker that holds any
// set of limits to that order.
#pragma once

#include <string>
#include <vector>

#include "base/finding.hpp"
#include "base/quantity.hpp"
#include "cell/datasheet.hpp"
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

/// The sheet for a pack of `series` groups; currents from the bank's capacity.
[[nodiscard]] std::vector<Setting> settings_sheet(const cell::Datasheet& sheet,
                                                  const layout::Layout& layout,
                                                  const layout::Limits& limits,
                                                  base::AmpHours cell_capacity);

/// Holds the limits to the order in which they must act: the charger tapers before the inverter
/// stops the charge, that before the BMS opens; the inverter stops before the BMS opens on the low
/// side, sag included; releases on the right side; balancing starts in the steep part; no charging
/// in the cold. `sag` is what one cell's voltage falls by at the design current.
[[nodiscard]] std::vector<base::Finding> check_settings(const cell::Datasheet& sheet,
                                                        const layout::Layout& layout,
                                                        const layout::Limits& limits,
                                                        base::Volts sag);

}  // namespace commission
