// SPDX-License-Identifier: Apache-2.0
#include "bench/sign.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

namespace bench {
namespace {

double largest(std::span<const double> xs) {
  double result = 0.0;
  for (const double x : xs) result = std::max(result, std::abs(x));
  return result;
}

/// Positive where the voltage of rows first…last rises under current: jump at the start, then the trend.
double response(std::span<const double> current, std::span<const double> voltage, std::size_t first, std::size_t last) {
  double jump = 0.0;
  if (first > 0 && current[first - 1] == 0.0) jump += voltage[first] - voltage[first - 1];
  if (last + 1 < current.size() && current[last + 1] == 0.0) jump -= voltage[last + 1] - voltage[last];
  const double trend = voltage[last] - voltage[first];
  return std::abs(jump) > 0.003 ? jump : trend;
}

}  // namespace

SignEvidence find_sign(std::span<const double> current, std::span<const double> voltage) {
  const double top = largest(current);
  if (top == 0.0) return SignEvidence::none;
  double agree = 0.0, against = 0.0;
  bool negative = false, positive = false;
  for (std::size_t i = 0; i < current.size(); ++i) {
    negative = negative || current[i] < -0.02 * top;
    positive = positive || current[i] > 0.02 * top;
    if (i == 0) continue;
    const double step = current[i] - current[i - 1];
    if (std::abs(step) < 0.05 * top) continue;
    const double answer = step * (voltage[i] - voltage[i - 1]);
    (answer > 0.0 ? agree : against) += std::abs(answer);
  }
  if (!(negative && positive)) {
    // Perhaps unsigned: do stretches of current answer both ways?
    bool up = false, down = false;
    for (std::size_t i = 0; i < current.size();) {
      std::size_t end = i;
      while (end + 1 < current.size() && (std::abs(current[end + 1]) > 0.02 * top) == (std::abs(current[i]) > 0.02 * top)) ++end;
      if (std::abs(current[i]) > 0.02 * top && end > i) {
        const double r = response(current, voltage, i, end);
        up = up || r > 0.003;
        down = down || r < -0.003;
      }
      i = end + 1;
    }
    if (up && down) return SignEvidence::unsigned_values;
    if (up == down) return SignEvidence::none;
    return up == positive ? SignEvidence::charge_positive : SignEvidence::discharge_positive;
  }
  if (std::max(agree, against) > 2.0 * std::min(agree, against))
    return agree > against ? SignEvidence::charge_positive : SignEvidence::discharge_positive;
  return SignEvidence::none;
}

void sign_stretches(std::span<double> current, std::span<const double> voltage) {
  const double top = largest(current);
  double sign = 1.0;
  for (std::size_t i = 0; i < current.size();) {
    const bool flowing = std::abs(current[i]) > 0.02 * top;
    std::size_t end = i;
    while (end + 1 < current.size() && (std::abs(current[end + 1]) > 0.02 * top) == flowing) ++end;
    if (flowing) {
      const double r = response(current, voltage, i, end);
      if (r != 0.0) sign = r > 0.0 ? -1.0 : 1.0;
    }
    for (std::size_t k = i; k <= end; ++k) current[k] = std::abs(current[k]) * sign;
    i = end + 1;
  }
}

}  // namespace bench
