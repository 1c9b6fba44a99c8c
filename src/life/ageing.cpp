// SPDX-License-Identifier: Apache-2.0
#include "life/ageing.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/check.hpp"
#include "base/interpolation.hpp"

namespace life {
namespace {

namespace units = base::units;

constexpr double gas_constant =
    8.314462618;  // J/mol/K, exact (the papers round it; the answers agree to 1e-4)
constexpr double rounded_gas_constant =
    8.314;  // with which [Wang2011] was fitted; its law has no reference temperature
constexpr double faraday = 96485.33212;  // C/mol, exact

double arrhenius(double activation_J_mol, base::Temperature temperature) {
  return std::exp(activation_J_mol / gas_constant * (1.0 / temperature.in_K() - 1.0 / 298.15));
}

double naumann_2018(base::Temperature temperature, double charge, base::Seconds time) {
  const double k_temperature = 1.2571e-5 * arrhenius(-17126.0, temperature);
  const double k_charge = 2.8575 * std::pow(charge - 0.5, 3) + 0.60225;
  return k_temperature * k_charge * std::sqrt(time.in(units::s));
}

/// Potential of graphite at a state of charge of the cell, V. [Safari2011] with the balancing of
/// [Schimpe2018]
double graphite_potential(double charge) {
  const double x = 0.0085 + charge * (0.78 - 0.0085);
  return 0.6379 + 0.5416 * std::exp(-305.5309 * x) + 0.044 * std::tanh(-(x - 0.1958) / 0.1088) -
         0.1978 * std::tanh((x - 1.0571) / 0.0854) - 0.6875 * std::tanh((x + 0.0117) / 0.0529) -
         0.0175 * std::tanh((x - 0.5692) / 0.0875);
}

double schimpe_calendar(base::Temperature temperature, double charge, base::Seconds time) {
  const double drive =
      std::exp(0.384 * faraday / gas_constant * (0.123 - graphite_potential(charge)) / 298.15);
  return 3.694e-4 * arrhenius(-20592.0, temperature) * (drive + 0.142) *
         std::sqrt(time.in(units::h));
}

double naumann_2020(const Cycling& c) {
  const double k_rate = 0.0630 * c.c_rate + 0.0971;
  const double k_depth = 4.0253 * std::pow(c.depth - 0.6, 3) + 1.0923;
  return k_rate * k_depth * std::sqrt(c.full_cycles) / 100.0;
}

constexpr double wang_cell_Ah = 2.2, schimpe_cell_Ah = 3.0;

double wang_2011(const Cycling& c) {
  constexpr std::array<double, 4> rate = {0.5, 2.0, 6.0, 10.0};
  constexpr std::array<double, 4> b = {31630.0, 21681.0, 12934.0, 15512.0};
  const double exponent =
      (-31700.0 + 370.3 * c.c_rate) / (rounded_gas_constant * c.temperature->in_K());
  const double throughput_Ah = c.full_cycles * wang_cell_Ah;
  return base::interpolate(rate, b, c.c_rate) * std::exp(exponent) * std::pow(throughput_Ah, 0.55) /
         100.0;
}

}  // namespace

double calendar_loss(CalendarLaw law, base::Temperature temperature, double state_of_charge,
                     base::Seconds time) {
  CHECK(state_of_charge >= 0.0 && state_of_charge <= 1.0 && time.si() >= 0.0);
  return law == CalendarLaw::naumann_2018 ? naumann_2018(temperature, state_of_charge, time)
                                          : schimpe_calendar(temperature, state_of_charge, time);
}

double cycle_loss(CycleLaw law, const Cycling& cycling) {
  CHECK(cycling.full_cycles >= 0.0 && cycling.depth > 0.0 && cycling.depth <= 1.0);
  if (law == CycleLaw::naumann_2020) return naumann_2020(cycling);
  CHECK(cycling.temperature.has_value());
  if (law == CycleLaw::wang_2011) return wang_2011(cycling);
  const SchimpeParts parts = schimpe_parts(cycling);
  return parts.warm + parts.cold + parts.cold_high;
}

SchimpeParts schimpe_parts(const Cycling& c) {
  CHECK(c.temperature.has_value());
  const base::Temperature t = *c.temperature;
  const double charged_Ah = c.full_cycles * schimpe_cell_Ah, both_ways_Ah = 2.0 * charged_Ah;
  const double top = std::min(1.0, c.mean_charge + 0.5 * c.depth);
  const double high_share = c.depth > 0.0 ? std::clamp((top - 0.82) / c.depth, 0.0, 1.0) : 0.0;
  return {
      1.456e-4 * arrhenius(-32699.0, t) * std::sqrt(both_ways_Ah),
      4.009e-4 * arrhenius(55546.0, t) * std::exp(2.64 * (c.c_rate - 1.0)) * std::sqrt(charged_Ah),
      2.031e-6 * arrhenius(2.33e5, t) * std::exp(7.84 * (c.c_rate - 1.0)) * high_share *
          charged_Ah};
}

bool fitted(CalendarLaw, base::Temperature temperature, base::Seconds time) {
  return temperature.in_C() >= 0.0 && temperature.in_C() <= 60.0 && time.in(units::day) <= 885.0;
}

bool fitted(CycleLaw law, const Cycling& c) {
  switch (law) {
    case CycleLaw::naumann_2020:
      return c.c_rate >= 0.2 && c.c_rate <= 1.0;
    case CycleLaw::wang_2011:
      return c.c_rate >= 0.5 && c.c_rate <= 10.0;
    case CycleLaw::schimpe_2018:
      break;
  }
  return c.c_rate <= 1.0 && c.temperature && c.temperature->in_C() >= 0.0 &&
         c.temperature->in_C() <= 55.0;
}

// ASTM E1049-85, 5.4.4: keep the turning points; X is the newest range, Y the one before it.
//   X < Y: read on. X >= Y and Y holds the start: count Y as one half, drop its first point.
//   Otherwise count Y as one, drop both its points. What is left counts one half each.
std::vector<CountedCycle> count_cycles(std::span<const double> history) {
  std::vector<double> turning;
  for (const double value : history) {
    if (!turning.empty() && value == turning.back()) continue;
    const std::size_t n = turning.size();
    if (n >= 2 && (turning[n - 1] - turning[n - 2]) * (value - turning[n - 1]) > 0.0)
      turning.back() = value;
    else
      turning.push_back(value);
  }
  std::vector<CountedCycle> cycles;
  std::vector<double> open;
  const auto count = [&](double a, double b, double how_often) {
    cycles.push_back({std::abs(a - b), 0.5 * (a + b), how_often});
  };
  for (const double point : turning) {
    open.push_back(point);
    while (open.size() >= 3) {
      const std::size_t n = open.size();
      const double x = std::abs(open[n - 1] - open[n - 2]), y = std::abs(open[n - 2] - open[n - 3]);
      if (x < y) break;
      if (n == 3) {
        count(open[0], open[1], 0.5);
        open.erase(open.begin());
      } else {
        count(open[n - 3], open[n - 2], 1.0);
        open.erase(open.end() - 3, open.end() - 1);
      }
    }
  }
  for (std::size_t i = 0; i + 1 < open.size(); ++i) count(open[i], open[i + 1], 0.5);
  return cycles;
}

}  // namespace life
