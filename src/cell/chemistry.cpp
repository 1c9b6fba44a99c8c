// SPDX-License-Identifier: Apache-2.0
#include "cell/chemistry.hpp"

#include <array>
#include <cmath>

#include "base/check.hpp"
#include "base/interpolation.hpp"

namespace cell {
namespace {

namespace units = base::units;

// Pseudo open-circuit voltage of one commercial 1.2 Ah LFP/graphite cell, C/32, both branches
// averaged; thinned from the authors' 600 points. [Sunil2025]
constexpr std::array<double, 38> charge = {
    0.000, 0.005, 0.010, 0.020, 0.030, 0.040, 0.050, 0.060, 0.080, 0.100, 0.125, 0.150, 0.175,
    0.200, 0.225, 0.250, 0.275, 0.300, 0.325, 0.350, 0.400, 0.450, 0.500, 0.550, 0.600, 0.650,
    0.675, 0.700, 0.725, 0.750, 0.800, 0.850, 0.900, 0.950, 0.970, 0.980, 0.990, 1.000};
constexpr std::array<double, 38> voltage_V = {
    2.0102, 2.5163, 2.7019, 2.8644, 2.9561, 3.0213, 3.0721, 3.1136, 3.1773, 3.2029,
    3.2096, 3.2156, 3.2276, 3.2413, 3.2522, 3.2618, 3.2708, 3.2778, 3.2834, 3.2883,
    3.2948, 3.2974, 3.2991, 3.3010, 3.3032, 3.3070, 3.3106, 3.3163, 3.3253, 3.3329,
    3.3371, 3.3393, 3.3411, 3.3429, 3.3445, 3.3481, 3.3703, 3.5981};

// Entropic coefficient of a commercial LFP cell, as transcribed. [Forgez2010]
constexpr std::array<double, 21> entropic_charge = {0.00, 0.05, 0.10, 0.15, 0.20, 0.25, 0.30,
                                                    0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65,
                                                    0.70, 0.75, 0.80, 0.85, 0.90, 0.95, 1.00};
constexpr std::array<double, 21> entropic_mV_K = {
    -0.04, -0.35, -0.30,  -0.15, -0.10, -0.09, -0.05,  -0.025, 0.06,  0.09, 0.08,
    0.07,  0.04,  -0.025, -0.02, -0.01, -0.02, -0.025, 0.04,   0.055, 0.045};

constexpr double gas_constant_J_mol_K = 8.314462618;  // CODATA 2018, exact
constexpr double activation_J_mol = 15400.0;          // [Plett2015], fitted 5…45 °C

}  // namespace

base::Volts open_circuit_voltage(double state_of_charge) {
  return base::interpolate(charge, voltage_V, state_of_charge) * units::V;
}

double open_circuit_slope_V(double state_of_charge) {
  return base::slope(charge, voltage_V, state_of_charge);
}

base::VoltsPerKelvin entropic_coefficient(double state_of_charge) {
  return base::interpolate(entropic_charge, entropic_mV_K, state_of_charge) * units::mV_per_K;
}

double resistance_factor(base::Temperature temperature) {
  return std::exp(activation_J_mol / gas_constant_J_mol_K *
                  (1.0 / temperature.in_K() - 1.0 / 298.15));
}

std::optional<ChargeSpan> charge_from_rest(base::Volts rested, base::Volts half_width) {
  CHECK(half_width.si() >= 0.0);
  const auto span = base::preimage(charge, voltage_V, (rested - half_width).in(units::V),
                                   (rested + half_width).in(units::V));
  if (!span) return std::nullopt;
  return ChargeSpan{span->low, span->high};
}

Heat heat(base::Amps current, base::Ohms resistance, base::VoltsPerKelvin entropic,
          base::Temperature temperature) {
  const auto absolute = temperature.in_K() * units::K;
  return {current * current * resistance, -1.0 * (current * absolute * entropic)};
}

}  // namespace cell
