// SPDX-License-Identifier: Apache-2.0
#include "cell/model.hpp"

#include <algorithm>
#include <cmath>

#include "cell/chemistry.hpp"

namespace cell {
namespace {

namespace units = base::units;

constexpr double mOhm_Ah_r0 = 55.0, mOhm_Ah_r1 = 25.0, mOhm_Ah_r2 = 60.0;

/// The open-circuit voltage, carried on with its end's slope beyond full and empty: a cell held
/// above the table's last voltage still tapers.
base::Volts rested_voltage(double charge) {
  const double inside = std::clamp(charge, 0.0, 1.0);
  return open_circuit_voltage(inside) + open_circuit_slope_V(inside) * (charge - inside) * units::V;
}

}  // namespace

double slow_resistance_factor(double state_of_charge) { return bent(slow_bends, state_of_charge); }

Model Model::scaled(base::AmpHours capacity) {
  const double per_Ah = 1.0 / capacity.in(units::Ah);
  Model model;
  model.capacity = capacity;
  model.r0 = mOhm_Ah_r0 * per_Ah * units::mOhm;
  model.r1 = mOhm_Ah_r1 * per_Ah * units::mOhm;
  model.r2 = mOhm_Ah_r2 * per_Ah * units::mOhm;
  return model;
}

Model Model::scaled(base::AmpHours capacity, base::Ohms dc_resistance_10s) {
  Model model = scaled(capacity);
  const double t = 10.0;
  const base::Ohms at_10s = model.r0 + model.r1 * (1.0 - std::exp(-t / model.tau1.in(units::s))) +
                            model.r2 * (1.0 - std::exp(-t / model.tau2.in(units::s)));
  const double factor = dc_resistance_10s / at_10s;
  model.r0 *= factor;
  model.r1 *= factor;
  model.r2 *= factor;
  return model;
}

base::Volts terminal_voltage(const Model& model, const State& state, base::Amps current,
                             base::Temperature temperature) {
  const double warm = resistance_factor(temperature) * bent(ohmic_bends, state.charge);
  return rested_voltage(state.charge) + model.hysteresis * state.branch -
         current * model.r0 * warm - state.v1 - state.v2;
}

State after(const Model& model, State state, base::Amps current, base::Seconds step,
            base::Temperature temperature) {
  const ResistanceFactors warm = resistance_factors(temperature);
  const double slow = slow_resistance_factor(state.charge);
  const double keep1 = std::exp(-(step / model.tau1)), keep2 = std::exp(-(step / model.tau2));
  state.v1 = state.v1 * keep1 + current * model.r1 * (warm.fast * slow * (1.0 - keep1));
  state.v2 = state.v2 * keep2 + current * model.r2 * (warm.slow * slow * (1.0 - keep2));
  const double moved = (current + model.leak) * step / model.capacity;  // share of the capacity
  const double pull = std::exp(-hysteresis_per_charge * std::abs(current * step / model.capacity));
  if (current.si() != 0.0)
    state.branch = state.branch * pull + (current.si() < 0.0 ? 1.0 : -1.0) * (1.0 - pull);
  state.charge -= moved;
  return state;
}

}  // namespace cell
