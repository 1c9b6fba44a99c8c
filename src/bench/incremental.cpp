// SPDX-License-Identifier: Apache-2.0
#include "bench/incremental.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.hpp"

namespace bench {

IncrementalCapacity incremental_capacity(std::span<const double> charge_Ah,
                                         std::span<const double> voltage_V, double bin_V) {
  CHECK(charge_Ah.size() == voltage_V.size() && bin_V > 0.0);
  IncrementalCapacity curve;
  if (charge_Ah.size() < 8) return curve;
  const auto [low, high] = std::minmax_element(voltage_V.begin(), voltage_V.end());
  const double from = std::floor(*low / bin_V) * bin_V;
  const auto bins = static_cast<std::size_t>((*high - from) / bin_V) + 1;
  if (bins < 8 || bins > 100000) return curve;
  std::vector<double> held(bins, 0.0);
  for (std::size_t k = 1; k < charge_Ah.size(); ++k) {
    const double part = std::abs(charge_Ah[k] - charge_Ah[k - 1]);
    // The charge of an interval lies evenly between its two voltages.
    double a = voltage_V[k - 1], b = voltage_V[k];
    if (a > b) std::swap(a, b);
    const auto first = static_cast<std::size_t>((a - from) / bin_V),
               last = std::min(static_cast<std::size_t>((b - from) / bin_V), bins - 1);
    if (first == last || b - a < 1e-12) {
      held[std::min(first, bins - 1)] += part;
      continue;
    }
    for (std::size_t bin = first; bin <= last; ++bin) {
      const double left = std::max(a, from + double(bin) * bin_V),
                   right = std::min(b, from + double(bin + 1) * bin_V);
      held[bin] += part * std::max(0.0, right - left) / (b - a);
    }
  }
  double whole = 0.0;
  for (const double q : held) whole += q;
  if (whole <= 0.0) return curve;
  constexpr std::array<double, 7> smooth = {-2.0 / 21, 3.0 / 21, 6.0 / 21, 7.0 / 21,
                                            6.0 / 21,  3.0 / 21, -2.0 / 21};
  for (std::size_t bin = 0; bin < bins; ++bin) {
    double value = 0.0;
    for (std::size_t k = 0; k < 7; ++k) {
      const auto at = static_cast<std::ptrdiff_t>(bin + k) - 3;
      if (at >= 0 && at < static_cast<std::ptrdiff_t>(bins))
        value += smooth[k] * held[static_cast<std::size_t>(at)];
    }
    curve.voltage_V.push_back(from + (double(bin) + 0.5) * bin_V);
    curve.per_V.push_back(std::max(0.0, value) / whole / bin_V);
  }
  return curve;
}

std::vector<IncrementalPeak> incremental_peaks(const IncrementalCapacity& curve,
                                               double prominence) {
  constexpr double lowest_V = 3.0, highest_V = 3.5;
  std::vector<IncrementalPeak> peaks;
  const std::size_t n = curve.per_V.size();
  if (n < 5) return peaks;
  double top = 0.0;
  for (std::size_t k = 0; k < n; ++k)
    if (curve.voltage_V[k] > lowest_V && curve.voltage_V[k] < highest_V)
      top = std::max(top, curve.per_V[k]);
  for (std::size_t k = 1; k + 1 < n; ++k) {
    const double here = curve.per_V[k];
    if (curve.voltage_V[k] < lowest_V || curve.voltage_V[k] > highest_V) continue;
    if (here < curve.per_V[k - 1] || here <= curve.per_V[k + 1]) continue;
    // How deep the valleys are before something higher stands on either side.
    double left = here, right = here;
    for (std::size_t j = k; j-- > 0 && curve.per_V[j] <= here;)
      left = std::min(left, curve.per_V[j]);
    for (std::size_t j = k + 1; j < n && curve.per_V[j] <= here; ++j)
      right = std::min(right, curve.per_V[j]);
    if (here - std::max(left, right) < prominence * top) continue;
    // The top of the parabola through three bins.
    const double a = curve.per_V[k - 1], c = curve.per_V[k + 1];
    const double bend = a - 2.0 * here + c;
    const double shift = bend < 0.0 ? std::clamp(0.5 * (a - c) / bend, -0.5, 0.5) : 0.0;
    peaks.push_back({curve.voltage_V[k] + shift * (curve.voltage_V[1] - curve.voltage_V[0]), here});
  }
  std::reverse(peaks.begin(), peaks.end());
  return peaks;
}

}  // namespace bench
