// SPDX-License-Identifier: Apache-2.0
#include "logs/sign.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "base/statistics.hpp"

namespace logs {
namespace {

constexpr double flowing_share = 0.02;  // of the largest current; less is rest
constexpr double least_jump_V = 0.003;

double largest(std::span<const double> xs) {
  double result = 0.0;
  for (const double x : xs) result = std::max(result, std::abs(x));
  return result;
}

/// Rows first…last carry a current of one sign (or, where the log is unsigned, a current at all).
struct Stretch {
  std::size_t first, last;
  int sign;  ///< of the current: −1, 0, +1
};

std::vector<Stretch> stretches(std::span<const double> current, double threshold) {
  const auto sign_at = [&](std::size_t i) {
    return current[i] > threshold ? 1 : current[i] < -threshold ? -1 : 0;
  };
  std::vector<Stretch> result;
  for (std::size_t i = 0; i < current.size(); ++i) {
    if (result.empty() || result.back().sign != sign_at(i)) result.push_back({i, i, sign_at(i)});
    result.back().last = i;
  }
  return result;
}

/// How far the voltage went from just before the stretch to its end: up while it charges, down
/// while it discharges, by the jump and the trend together. What comes after the end tells less: a
/// sparse log may have missed how far the stretch really went.
double response(const Stretch& s, std::span<const double> voltage) {
  return voltage[s.last] - voltage[s.first > 0 ? s.first - 1 : s.first];
}

/// All of one sign up to some point, and all of the other from there on; what is small is no
/// witness.
bool turn_once(const std::vector<double>& turns) {
  double largest = 0.0;
  for (const double r : turns) largest = std::max(largest, std::abs(r));
  int changes = 0;
  double last = 0.0;
  std::size_t witnesses = 0;
  for (const double r : turns) {
    if (std::abs(r) < 0.1 * largest) continue;
    ++witnesses;
    changes += last * r < 0.0;
    last = r;
  }
  return changes == 1 && witnesses >= 4;
}

/// True where a lasting current turns round from one row to the next and the voltage does not
/// answer: the sign changed, not the current.
bool turns_unanswered(std::span<const double> current, std::span<const double> voltage,
                      double top) {
  std::vector<double> ohms;
  for (std::size_t k = 1; k < current.size(); ++k) {
    const double step = std::abs(current[k] - current[k - 1]);
    if (step > 0.2 * top && voltage[k] != voltage[k - 1])
      ohms.push_back(std::abs(voltage[k] - voltage[k - 1]) / step);
  }
  if (ohms.size() < 3) return false;
  const double ohm = base::median(ohms);
  for (std::size_t k = 3; k + 3 < current.size(); ++k) {
    if (current[k] * current[k - 1] >= 0.0 || std::abs(current[k]) < 0.2 * top ||
        std::abs(current[k - 1]) < 0.2 * top)
      continue;
    bool lasting = true;
    for (std::size_t j = 0; j < 3; ++j)
      lasting =
          lasting && current[k + j] * current[k] > 0.0 && current[k - 1 - j] * current[k - 1] > 0.0;
    const double expected = ohm * std::abs(current[k] - current[k - 1]);
    if (lasting && expected > 2.0 * least_jump_V &&
        std::abs(voltage[k] - voltage[k - 1]) < 0.2 * expected)
      return true;
  }
  return false;
}

}  // namespace

SignEvidence find_sign(std::span<const double> current, std::span<const double> voltage) {
  const double top = largest(current);
  if (top == 0.0) return SignEvidence::none;
  double agree = 0.0, against = 0.0;
  std::vector<double> turns;  // response along the current's sign, stretch by stretch
  bool negative = false, positive = false, up = false, down = false;
  for (const Stretch& s : stretches(current, flowing_share * top)) {
    if (s.sign == 0) continue;
    const double r = response(s, voltage);
    (r * s.sign > 0.0 ? agree : against) += std::abs(r);
    turns.push_back(r * s.sign);
    negative = negative || s.sign < 0;
    positive = positive || s.sign > 0;
    up = up || r > least_jump_V;
    down = down || r < -least_jump_V;
  }
  if (negative != positive && up && down) return SignEvidence::unsigned_values;
  if (negative && positive && turns_unanswered(current, voltage, top)) return SignEvidence::changes;
  if (std::min(agree, against) > 0.1 * std::max(agree, against) && turn_once(turns))
    return SignEvidence::changes;
  if (std::max(agree, against) <= 2.0 * std::min(agree, against)) return SignEvidence::none;
  return agree > against ? SignEvidence::charge_positive : SignEvidence::discharge_positive;
}

void sign_stretches(std::span<double> current, std::span<const double> voltage) {
  for (double& i : current) i = std::abs(i);
  double sign = 1.0;
  for (const Stretch& s : stretches(current, flowing_share * largest(current))) {
    const double r = s.sign != 0 ? response(s, voltage) : 0.0;
    if (r != 0.0) sign = r > 0.0 ? -1.0 : 1.0;
    for (std::size_t k = s.first; k <= s.last; ++k) current[k] *= sign;
  }
}

}  // namespace logs
