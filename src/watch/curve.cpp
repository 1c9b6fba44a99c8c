// SPDX-License-Identifier: Apache-2.0
#include "watch/curve.hpp"

#include <algorithm>
#include <cmath>

#include "base/interpolation.hpp"
#include "cell/chemistry.hpp"

namespace watch {
namespace {

// Mean of the two branches at C/27, 25 °C, of one 2.07 Ah LFP/graphite cell. [Plett2015] Below 1 %
// the branches part; the other table alone holds there.
constexpr std::array<double, 36> charge = {
    0.010, 0.020, 0.030, 0.040, 0.050, 0.060, 0.080, 0.100, 0.125, 0.150, 0.175, 0.200,
    0.225, 0.250, 0.275, 0.300, 0.325, 0.350, 0.400, 0.450, 0.500, 0.550, 0.600, 0.650,
    0.675, 0.700, 0.725, 0.750, 0.800, 0.850, 0.900, 0.950, 0.970, 0.980, 0.990, 1.000};
constexpr std::array<double, 36> volts = {
    2.6385, 2.8199, 2.9118, 2.9756, 3.0251, 3.0656, 3.1297, 3.1782, 3.2100, 3.2183, 3.2309, 3.2445,
    3.2552, 3.2642, 3.2724, 3.2797, 3.2854, 3.2912, 3.3011, 3.3055, 3.3080, 3.3117, 3.3171, 3.3232,
    3.3264, 3.3305, 3.3359, 3.3412, 3.3454, 3.3481, 3.3520, 3.3691, 3.4007, 3.4401, 3.5165, 3.5900};

}  // namespace

double mean_curve_V(double s) {
  const double one = cell::open_circuit_voltage(s).in(base::units::V);
  if (s < charge.front()) return one;
  return 0.5 * (one + base::interpolate(charge, volts, s));
}

double charge_at_V(double v) {
  double low = 0.0, high = 1.0;
  for (int i = 0; i < 40; ++i) {  // the mean of the tables rises throughout
    const double middle = 0.5 * (low + high);
    (mean_curve_V(middle) < v ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

LearntCurve::LearntCurve() {
  // A bin either side, so that a slope belongs to as broad a span as the charge is known to.
  for (int k = 0; k < bins; ++k) {
    const double low = std::max(0.0, (k - 1.0) / bins), high = std::min(1.0, (k + 2.0) / bins);
    slope_[std::size_t(k)] = (mean_curve_V(high) - mean_curve_V(low)) / (high - low);
  }
}

void LearntCurve::add(double s, double v, bool charging, double weight) {
  const int k = int(s * bins);
  if (k < 0 || k >= bins) return;
  Sum& sum = sums_[charging ? 1 : 0][std::size_t(k)];
  sum.weight += weight;
  sum.volts += weight * v;
}

void LearntCurve::settle() {
  constexpr double enough = 30.0;  // minutes in a bin
  for (int k = 1; k + 1 < bins; ++k) {
    double sum = 0.0, weight = 0.0;
    for (const auto& branch : sums_) {
      const Sum &a = branch[std::size_t(k - 1)], &b = branch[std::size_t(k + 1)];
      const double least = std::min(a.weight, b.weight);
      if (least < enough) continue;
      sum += least * (b.volts / b.weight - a.volts / a.weight) * bins / 2.0;
      weight += least;
    }
    if (weight <= 0.0) continue;
    const double own = std::clamp(sum / weight, 0.0, 20.0), share = weight / (weight + 600.0);
    const double low = std::max(0.0, (k - 1.0) / bins), high = std::min(1.0, (k + 2.0) / bins);
    const double table = (mean_curve_V(high) - mean_curve_V(low)) / (high - low);
    slope_[std::size_t(k)] = table + share * (own - table);
  }
}

double LearntCurve::slope_V(double s) const {
  const double at = std::clamp(s * bins - 0.5, 0.0, bins - 1.000001);
  const auto k = std::size_t(at);
  return slope_[k] + (at - double(k)) * (slope_[k + 1 < bins ? k + 1 : k] - slope_[k]);
}

}  // namespace watch
