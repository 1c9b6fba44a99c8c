// SPDX-License-Identifier: Apache-2.0
#include "cell/rested_charge.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.hpp"
#include "base/interpolation.hpp"

namespace cell {
namespace {

namespace units = base::units;

// One commercial 2.07 Ah cell, C/27, 25 °C, both branches. [Plett2015]
constexpr std::array<double, 37> branch_charge = {
    0.010, 0.020, 0.030, 0.040, 0.050, 0.060, 0.080, 0.100, 0.125, 0.150, 0.175, 0.200, 0.225,
    0.250, 0.275, 0.300, 0.325, 0.350, 0.400, 0.450, 0.500, 0.550, 0.600, 0.625, 0.650, 0.675,
    0.700, 0.725, 0.750, 0.800, 0.850, 0.900, 0.950, 0.970, 0.980, 0.990, 1.000};
constexpr std::array<double, 37> discharged_V = {
    2.5182, 2.7564, 2.8627, 2.9335, 2.9872, 3.0307, 3.0990, 3.1507, 3.1885, 3.1968,
    3.2077, 3.2199, 3.2284, 3.2364, 3.2435, 3.2498, 3.2556, 3.2633, 3.2819, 3.2888,
    3.2910, 3.2937, 3.2973, 3.2998, 3.3026, 3.3055, 3.3101, 3.3170, 3.3244, 3.3316,
    3.3354, 3.3397, 3.3530, 3.3752, 3.4035, 3.4563, 3.5799};
constexpr std::array<double, 37> charged_V = {
    2.7587, 2.8835, 2.9609, 3.0177, 3.0630, 3.1006, 3.1604, 3.2056, 3.2315, 3.2398,
    3.2540, 3.2692, 3.2820, 3.2919, 3.3013, 3.3096, 3.3151, 3.3192, 3.3203, 3.3223,
    3.3250, 3.3297, 3.3369, 3.3404, 3.3437, 3.3472, 3.3509, 3.3547, 3.3580, 3.3593,
    3.3608, 3.3643, 3.3853, 3.4262, 3.4767, 3.5767, 3.6001};

constexpr double between_makes_V = 0.020;      // 95 % half-width on the flat part
constexpr double between_makes_charge = 0.02;  // the same along the charge, for the steep ends
constexpr double short_rest_V = 0.015;  // what a rest of minutes leaves, thinning out over an hour

}  // namespace

VoltageBand rested_band(double s, Before before, double rest_h) {
  CHECK(rest_h >= 0.0);
  VoltageBand band{1e9, -1e9};
  for (const double shift : {-between_makes_charge, 0.0, between_makes_charge}) {
    const double at = std::clamp(s + shift, 0.0, 1.0);
    const double low = base::interpolate(branch_charge, discharged_V,
                                         std::max(at, branch_charge.front())),
                 high = base::interpolate(branch_charge, charged_V,
                                          std::max(at, branch_charge.front())),
                 other = open_circuit_voltage(at).in(units::V);
    const double middle = 0.5 * (low + high);
    const double least = before == Before::charged ? middle : low,
                 most = before == Before::discharged ? middle : high;
    band.low_V = std::min({band.low_V, least, other});
    band.high_V = std::max({band.high_V, most, other});
  }
  const double unrested = short_rest_V * std::exp(-rest_h / 0.5);
  band.low_V -= between_makes_V + (before == Before::charged ? 0.0 : unrested);
  band.high_V += between_makes_V + (before == Before::discharged ? 0.0 : unrested);
  return band;
}

std::optional<ChargeSpan> charge_from_rest(const RestReading& r) {
  const double volts = r.voltage.in(units::V), half = r.half_width.in(units::V);
  CHECK(half >= 0.0);
  std::optional<ChargeSpan> span;
  constexpr int steps = 500;
  for (int k = 0; k <= steps; ++k) {
    const double s = double(k) / steps;
    const VoltageBand band = rested_band(s, r.before, r.rest_h);
    if (volts < band.low_V - half || volts > band.high_V + half) continue;
    if (!span) span = ChargeSpan{s, s};
    span->high = s;
  }
  return span;
}

}  // namespace cell
