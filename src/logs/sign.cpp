// SPDX-License-Identifier: Apache-2.0
#include "logs/sign.hpp"

#include <algorithm>
#include <array>
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

namespace {

constexpr double level_share = 0.05;    // of the largest current: another level
constexpr double least_turn_V = 0.004;  // a step of the voltage at a steady current
constexpr double turn_cost = 6.0;       // of charge that turns into discharge without a pause
constexpr double sure = 4.0;            // how much dearer the other sign must be

using Piece = UnsignedReading::Stretch;

/// Ohms that the voltage answers with where a current begins or ends: its sign needs not be known.
double edge_ohm(std::span<const double> size, std::span<const double> voltage, double rest_A,
                double top) {
  std::vector<double> ohms;
  for (std::size_t k = 1; k < size.size() && ohms.size() < 4096; ++k) {
    const bool edge = (size[k - 1] <= rest_A) != (size[k] <= rest_A);
    if (edge && std::abs(size[k] - size[k - 1]) > 0.2 * top && voltage[k] != voltage[k - 1])
      ohms.push_back(std::abs((voltage[k] - voltage[k - 1]) / (size[k] - size[k - 1])));
  }
  return ohms.empty() ? 0.0 : base::median(ohms);
}

std::vector<Piece> pieces_of(std::span<const double> size, std::span<const double> voltage,
                             double rest_A, double top, double ohm) {
  std::vector<Piece> pieces;
  const double turn_V = std::max(least_turn_V, ohm * 0.3 * top);
  const auto kind = [&](std::size_t k) { return size[k] <= rest_A ? 0 : 1; };
  for (std::size_t k = 0; k < size.size(); ++k) {
    bool cut = k == 0 || kind(k) != kind(k - 1);
    if (!cut && kind(k) != 0) {
      const double step_A = std::abs(size[k] - size[k - 1]),
                   step_V = std::abs(voltage[k] - voltage[k - 1]);
      cut = step_A > level_share * top || step_V > turn_V + ohm * step_A;
    }
    if (cut) pieces.push_back({k, k, kind(k)});
    pieces.back().last = k;
  }
  return pieces;
}

/// What it costs to take the piece as discharging (`sign` +1) or charging: a voltage that goes the
/// wrong way meanwhile.
double trend_cost(const Piece& p, int sign, std::span<const double> size,
                  std::span<const double> voltage, double ohm) {
  const double moved =
      voltage[p.last] - voltage[p.first] + ohm * sign * (size[p.last] - size[p.first]);
  const double wrong = moved * sign;  // rises while it discharges, or falls while it charges
  if (wrong <= 0.0) return 0.0;
  const double z = wrong / 0.004;
  return std::min(z * z, 50.0);
}

/// What it costs that the voltage does not step as the current does. Going further the way that the
/// charge moves it is no wonder: near full and empty the rested voltage itself runs away.
double step_cost(const Piece& a, int sign_a, const Piece& b, int sign_b,
                 std::span<const double> size, std::span<const double> voltage, double ohm) {
  const double turns = sign_a * sign_b < 0 ? turn_cost : 0.0;
  const double from = size[a.last], to = size[b.first];
  // Without a rest nothing shows the resistance: only steps at one current speak.
  if (ohm <= 0.0 && std::abs(to - from) > 0.1 * std::max(from, to)) return turns;
  const double expected = ohm > 0.0 ? -ohm * (sign_b * to - sign_a * from) : 0.0;
  const double off = voltage[b.first] - voltage[a.last] - expected;
  const int natural = sign_b != 0 ? -sign_b : sign_a;  // the way that charge or relaxing takes it
  const double sd = std::max(0.003, 0.25 * ohm * std::max(from, to));
  const double z = off / sd * (off * natural > 0.0 ? 0.1 : 1.0);
  return turns + std::min(z * z, 50.0);
}

}  // namespace

UnsignedReading read_unsigned(std::span<const double> current, std::span<const double> voltage,
                              std::span<const double> weight) {
  UnsignedReading r;
  std::vector<double> size(current.begin(), current.end());
  for (double& i : size) i = std::abs(i);
  const double top = largest(current), rest_A = flowing_share * top;
  if (top == 0.0) return r;
  const double ohm = edge_ohm(size, voltage, rest_A, top);
  r.stretches = pieces_of(size, voltage, rest_A, top, ohm);
  const std::size_t n = r.stretches.size();
  // The cheapest way through, from either end: [0] discharging (or resting), [1] charging.
  using Two = std::array<double, 2>;
  std::vector<Two> own(n), from_left(n), from_right(n);
  const auto sign = [&](std::size_t k, std::size_t which) {
    return r.stretches[k].sign == 0 ? 0 : which == 0 ? 1 : -1;
  };
  const auto between = [&](std::size_t k, std::size_t a, std::size_t b) {  // k and k + 1
    return step_cost(r.stretches[k], sign(k, a), r.stretches[k + 1], sign(k + 1, b), size, voltage,
                     ohm);
  };
  for (std::size_t k = 0; k < n; ++k)
    for (std::size_t w = 0; w < 2; ++w)
      own[k][w] =
          sign(k, w) == 0 ? 0.0 : trend_cost(r.stretches[k], sign(k, w), size, voltage, ohm);
  for (std::size_t k = 0; k < n; ++k)
    for (std::size_t w = 0; w < 2; ++w) {
      from_left[k][w] = own[k][w];
      if (k > 0)
        from_left[k][w] += std::min(from_left[k - 1][0] + between(k - 1, 0, w),
                                    from_left[k - 1][1] + between(k - 1, 1, w));
    }
  for (std::size_t k = n; k-- > 0;)
    for (std::size_t w = 0; w < 2; ++w)
      from_right[k][w] = k + 1 == n
                             ? 0.0
                             : std::min(from_right[k + 1][0] + own[k + 1][0] + between(k, w, 0),
                                        from_right[k + 1][1] + own[k + 1][1] + between(k, w, 1));
  double all = 0.0, doubtful = 0.0;
  int last = 0;
  for (std::size_t k = 0; k < n; ++k) {
    Piece& p = r.stretches[k];
    if (p.sign == 0) {
      last = 0;
      continue;
    }
    const double discharge = from_left[k][0] + from_right[k][0],
                 charge = from_left[k][1] + from_right[k][1];
    p.sign = discharge <= charge ? 1 : -1;
    (p.sign > 0 ? r.discharges : r.charges) = true;
    if (last * p.sign < 0) {  // which row is the first of the new direction is not sure
      ++r.reversals;
      doubtful += std::abs(weight[p.first]) + std::abs(weight[p.first - 1]);
    }
    last = p.sign;
    double moved = 0.0;
    for (std::size_t j = p.first; j <= p.last; ++j) moved += std::abs(weight[j]);
    all += moved;
    if (std::abs(discharge - charge) < sure) doubtful += moved;
  }
  r.doubtful_share = all > 0.0 ? doubtful / all : 0.0;
  return r;
}

void put_signs(const UnsignedReading& reading, std::span<double> current) {
  for (const Piece& p : reading.stretches)
    for (std::size_t k = p.first; k <= p.last; ++k)
      current[k] = p.sign < 0 ? -std::abs(current[k]) : std::abs(current[k]);
}

}  // namespace logs
