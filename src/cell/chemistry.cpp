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

// Two-RC fits of one 2.07 Ah LFP/graphite cell, mΩ; at −25 °C R0 from single steps. [Plett2015]
constexpr std::array<double, 8> fit_C = {-25.0, -15.0, -5.0, 5.0, 15.0, 25.0, 35.0, 45.0};
constexpr std::array<double, 8> fit_r0 = {
    129.6 * 9.49 / 10.07, 54.70, 28.02, 17.15, 12.13, 9.49, 8.20, 7.28};
constexpr std::array<double, 7> slow_C = {-15.0, -5.0, 5.0, 15.0, 25.0, 35.0, 45.0};
constexpr std::array<double, 7> fit_r1 = {19.54, 9.59, 11.13, 9.74, 7.82, 6.51, 4.81};
constexpr std::array<double, 7> fit_r2 = {113.6, 62.54, 36.52, 23.37, 17.14, 13.37, 10.17};

/// Straight in the logarithm between the points, on beyond the ends with the end's slope, over the
/// value at 25 °C.
template <std::size_t N>
double log_factor(const std::array<double, N>& celsius, const std::array<double, N>& ohms,
                  double at_25, double C) {
  std::size_t k = 0;
  while (k + 2 < N && C > celsius[k + 1]) ++k;
  const double share = (C - celsius[k]) / (celsius[k + 1] - celsius[k]);
  return ohms[k] * std::pow(ohms[k + 1] / ohms[k], share) / at_25;
}

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
  return log_factor(fit_C, fit_r0, 9.49, temperature.in_C());
}

ResistanceFactors resistance_factors(base::Temperature temperature) {
  const double C = temperature.in_C();
  return {log_factor(fit_C, fit_r0, 9.49, C), log_factor(slow_C, fit_r1, 7.82, C),
          log_factor(slow_C, fit_r2, 17.14, C)};
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
