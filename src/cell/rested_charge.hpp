// SPDX-License-Identifier: Apache-2.0
// How much charge a rested voltage allows, hysteresis and the spread between makes minded.
#pragma once

#include <cstdint>
#include <optional>

#include "base/quantity.hpp"
#include "cell/chemistry.hpp"

namespace cell {

/// Which way the cell's charge moved before it rested; a move of a tenth of the charge or more.
enum class Before : std::uint8_t { unknown, charged, discharged };

struct RestReading {
  base::Volts voltage;
  base::Volts half_width;  ///< of the meter
  Before before = Before::unknown;
  double rest_h = 0.0;  ///< since a current last flowed
};

/// The rested voltages that cells of this chemistry show at a state of charge 0…1 after this
/// history: the two branches of one measured cell [Plett2015] (C/27, 25 °C) and the averaged curve
/// of another [Sunil2025], spread by what lies between makes (20 mV and two percent of charge;
/// facts: 10…25 mV on the flat part) and by what a short rest leaves.
struct VoltageBand {
  double low_V, high_V;
};
[[nodiscard]] VoltageBand rested_band(double state_of_charge, Before before, double rest_h);

/// The span of charge whose band holds the reading; about 95 %. Nothing where none does. On the
/// flat part it is wide, and that is the answer: voltage does not tell the charge there.
[[nodiscard]] std::optional<ChargeSpan> charge_from_rest(const RestReading& reading);

}  // namespace cell
