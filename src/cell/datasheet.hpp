// SPDX-License-Identifier: Apache-2.0
// What the seller's sheet says of a cell: rated, not measured.
#pragma once

#include <optional>
#include <string>

#include "base/quantity.hpp"

namespace cell {

/// AC (1 kHz) and DC (step, with its seconds) resistance are different quantities and different
/// types.
struct AcResistance {
  base::Ohms value;
};
struct DcResistance {
  base::Ohms value;
  base::Seconds time;  ///< how long after the step
};

struct Datasheet {
  std::string chemistry = "lfp";
  base::AmpHours rated_capacity;
  DcResistance dc_resistance;
  std::optional<AcResistance> ac_resistance = {};
  base::Volts max = 3.65 * base::units::V;
  base::Volts min = 2.5 * base::units::V;
  base::Volts nominal = 3.2 * base::units::V;
  std::optional<base::Kilograms> mass = {};
  std::optional<base::Metres> width = {}, height = {}, thickness = {};
  double max_charge_rate = 0.5;     ///< times rated capacity per hour
  double max_discharge_rate = 1.0;  ///< times rated capacity per hour
  base::Temperature charge_min = base::Temperature::from_C(0.0);
};

}  // namespace cell
