// SPDX-License-Identifier: Apache-2.0
// The equivalent circuit of one cell: open-circuit voltage, hysteresis, R0 and two RC pairs.
#pragma once

#include "base/quantity.hpp"

namespace cell {

/// Parameters at 25 °C and mid charge. The model is const; what varies is in State.
struct Model {
  base::AmpHours capacity;
  base::Ohms r0, r1, r2;
  base::Seconds tau1 = 15.0 * base::units::s;
  base::Seconds tau2 = 160.0 * base::units::s;
  base::Volts hysteresis = 12.0 * base::units::mV;
  base::Amps leak = 0.0 * base::units::A;

  /// An energy cell of this capacity where nothing else is known: R0·Q = 55, R1·Q = 25, R2·Q = 60
  /// mΩ·Ah, scaled to a 10 s DC resistance if one is given. Engineering synthesis
  /// (docs/models/cell.md).
  static Model scaled(base::AmpHours capacity);
  static Model scaled(base::AmpHours capacity, base::Ohms dc_resistance_10s);
};

struct State {
  double charge = 0.5;  ///< state of charge, 0…1
  base::Volts v1, v2;   ///< across the two RC pairs, positive after discharge
  double branch = 0.0;  ///< hysteresis, −1 (discharged) … +1 (charged)
};

/// The slow resistances R1 and R2 at a state of charge, as a factor of those at mid charge: they
/// rise towards empty. [Plett2015], read off a published fit.
[[nodiscard]] double slow_resistance_factor(double state_of_charge);

/// Terminal voltage while a current flows (discharge positive).
[[nodiscard]] base::Volts terminal_voltage(const Model& model, const State& state,
                                           base::Amps current, base::Temperature temperature);

/// The state after `step` at a constant current (discharge positive); exact for the RC pairs.
/// Charge is not clamped: a caller that lets it leave 0…1 sees it do so.
[[nodiscard]] State after(const Model& model, State state, base::Amps current, base::Seconds step,
                          base::Temperature temperature);

}  // namespace cell
