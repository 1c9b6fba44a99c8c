// SPDX-License-Identifier: Apache-2.0
// What the chemistry fixes: lithium iron phosphate against graphite, as published measurements show
// it.
#pragma once

#include <optional>

#include "base/quantity.hpp"

namespace cell {

/// Open-circuit voltage at a state of charge 0…1, averaged over both branches, about 25 °C.
/// [Sunil2025] A 1.2 Ah cell at C/32; cells of other make differ by 10–25 mV on the flat part, so a
/// cell's own log is better where there is one.
[[nodiscard]] base::Volts open_circuit_voltage(double state_of_charge);

/// Slope of that curve, volts per unit of state of charge.
[[nodiscard]] double open_circuit_slope_V(double state_of_charge);

/// Entropic coefficient dU/dT at a state of charge 0…1. [Forgez2010], transcribed.
[[nodiscard]] base::VoltsPerKelvin entropic_coefficient(double state_of_charge);

/// Half the gap between the charge and the discharge branch at rest. Engineering choice inside the
/// 5…17 mV that measurements allow (docs/models/cell.md).
inline constexpr auto hysteresis_half_width = 12.0 * base::units::mV;

/// Ohmic and fast resistance at a temperature, as a factor of that at 25 °C: Arrhenius with
/// 15.4 kJ/mol, fitted 5…45 °C on published data. [Plett2015] Below 0 °C it understates.
[[nodiscard]] double resistance_factor(base::Temperature temperature);

/// The span of charge that a rested reading allows, given how far voltage may be off.
struct ChargeSpan {
  double low, high;  ///< state of charge, 0…1
};
/// Nothing where no state of charge gives such a voltage.
[[nodiscard]] std::optional<ChargeSpan> charge_from_rest(base::Volts rested,
                                                         base::Volts half_width);

/// Heat of a cell that carries a current (discharge positive): Bernardi's two terms. [Bernardi1985]
struct Heat {
  base::Watts joule;       ///< I² R, never negative
  base::Watts reversible;  ///< −I T dU/dT; positive warms
};
[[nodiscard]] Heat heat(base::Amps current, base::Ohms resistance, base::VoltsPerKelvin entropic,
                        base::Temperature temperature);

}  // namespace cell
