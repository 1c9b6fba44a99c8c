// SPDX-License-Identifier: Apache-2.0
#include "wiring/fuse.hpp"

#include <array>
#include <cmath>

namespace wiring {
namespace {

constexpr std::array<FuseGate, 19> gates = {{{16, 33, 65, 85, 150},
                                             {20, 42, 85, 110, 200},
                                             {25, 52, 110, 150, 260},
                                             {32, 75, 150, 200, 350},
                                             {40, 95, 190, 260, 450},
                                             {50, 125, 250, 350, 610},
                                             {63, 160, 320, 450, 820},
                                             {80, 215, 425, 610, 1100},
                                             {100, 290, 580, 820, 1450},
                                             {125, 355, 715, 1100, 1910},
                                             {160, 460, 950, 1450, 2590},
                                             {200, 610, 1250, 1910, 3420},
                                             {250, 750, 1650, 2590, 4500},
                                             {315, 1050, 2200, 3420, 6000},
                                             {400, 1420, 2840, 4500, 8060},
                                             {500, 1780, 3800, 6000, 10600},
                                             {630, 2200, 5100, 8060, 14140},
                                             {800, 3060, 7000, 10600, 19000},
                                             {1000, 4000, 9500, 14140, 24000}}};
constexpr double fusing_factor = 1.6;  // of the rating, within the conventional hours; from memory

/// Straight in the logarithms of current and time.
double between(double I, double I1, double t1, double I2, double t2) {
  const double f = std::log(I / I1) / std::log(I2 / I1);
  return t1 * std::pow(t2 / t1, f);
}

}  // namespace

FuseCurve fuse_curve_named(std::string_view word) {
  return word == "gG" || word == "gg" || word == "gL" ? FuseCurve::gg : FuseCurve::unknown;
}

std::span<const FuseGate> fuse_gates() { return gates; }

std::optional<FuseGate> fuse_gate(base::Amps rated) {
  for (const FuseGate& g : gates)
    if (std::abs(g.rated_A - rated.si()) < 1e-6) return g;
  return std::nullopt;
}

std::optional<OpeningTime> opening_time(base::Amps rated, base::Amps current) {
  const auto gate = fuse_gate(rated);
  const double I = current.si();
  if (!gate || !(I > 0.0)) return std::nullopt;
  OpeningTime t;
  if (I <= gate->carries_10s_A)
    t.earliest_s = 10.0;  // and longer
  else if (I <= gate->carries_01s_A)
    t.earliest_s = between(I, gate->carries_10s_A, 10.0, gate->carries_01s_A, 0.1);
  else
    t.earliest_s = 0.1 * std::pow(gate->carries_01s_A / I, 2);
  if (I >= gate->opens_01s_A)
    t.latest_s = 0.1 * std::pow(gate->opens_01s_A / I, 2);
  else if (I >= gate->opens_5s_A)
    t.latest_s = between(I, gate->opens_5s_A, 5.0, gate->opens_01s_A, 0.1);
  else if (I >= fusing_factor * gate->rated_A)
    t.latest_s = between(I, fusing_factor * gate->rated_A, 3.0 * 3600.0, gate->opens_5s_A, 5.0);
  return t;
}

std::optional<double> let_through_A2s(base::Amps rated, base::Amps current) {
  const auto t = opening_time(rated, current);
  if (!t || !t->latest_s) return std::nullopt;
  return current.si() * current.si() * *t->latest_s;
}

bool selective(base::Amps smaller, base::Amps larger) {
  return larger.si() >= 1.56 * smaller.si();  // 1.6, which the series rounds to 1.5625 and above
}

}  // namespace wiring
