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

/// Ohmic resistance at a temperature, as a factor of that at 25 °C. [Plett2015] Two-RC fits of one
/// 2.07 Ah cell every ten degrees, −25…45 °C; in between straight in the logarithm, beyond the ends
/// on with the end's slope.
[[nodiscard]] double resistance_factor(base::Temperature temperature);

/// The three resistances of the equivalent circuit at a temperature, each as a factor of its own at
/// 25 °C, from the same fits (fast and slow −15…45 °C).
struct ResistanceFactors {
  double ohmic, fast, slow;
};
[[nodiscard]] ResistanceFactors resistance_factors(base::Temperature temperature);

/// A bend of a resistance over the state of charge: below it, it rises by `slope` for each unit of
/// charge, on top of the other bends.
struct Bend {
  double below, slope;
};
/// The slow resistances R1 and R2: 1 above a quarter, 1.5 at 0.17, 2.2 at 0.10, 3.2 from 0.05 down.
/// [Plett2015], read off the same fits.
inline constexpr Bend slow_bends[4] = {{0.25, 6.25}, {0.17, 3.75}, {0.10, 10.0}, {0.05, -20.0}};
/// R0 hardly changes: 1.04 at 0.17, 1.11 at 0.07. [Plett2015]
inline constexpr Bend ohmic_bends[2] = {{0.25, 0.5}, {0.17, 0.2}};
template <int N>
[[nodiscard]] constexpr double bent(const Bend (&bends)[N], double state_of_charge) {
  double factor = 1.0;
  for (const Bend& b : bends)
    factor += b.slope * (b.below - state_of_charge > 0.0 ? b.below - state_of_charge : 0.0);
  return factor;
}

/// Hysteresis: the other branch is reached after some 10–15 % of charge; per unit of charge.
/// Engineering choice.
inline constexpr double hysteresis_per_charge = 25.0;

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
