// SPDX-License-Identifier: Apache-2.0
#include "bench/uncertainty.hpp"

#include <cmath>
#include <numbers>

#include "base/check.hpp"
#include "base/statistics.hpp"

namespace bench {

namespace units = base::units;

Capacity capacity_with_uncertainty(const CapacityTest& t) {
  const auto rectangular = [](double half_width) { return half_width / std::numbers::sqrt3; };
  const double raw_Ah = (t.current * t.time).in(units::Ah);
  const double hours = t.time.in(units::h);
  const double below_25 = 25.0 - t.temperature.in_C();
  const double a = t.coefficient_percent_K / 100.0;
  const double value = raw_Ah * (1.0 + a * below_25);
  Capacity result;
  const auto line = [&](std::string_view input, double u, double sensitivity) {
    result.budget.push_back({input, u, sensitivity, std::abs(u * sensitivity)});
  };
  line("current gain", rectangular(t.gain_percent / 100.0), value);
  line("current offset, A", rectangular(t.offset_A), hours * (1.0 + a * below_25));
  line("clock", rectangular(t.clock_ppm * 1e-6), value);
  line("temperature, K", rectangular(t.temperature_halfwidth_K), a * raw_Ah);
  line("temperature coefficient, 1/K", rectangular(t.coefficient_halfwidth_percent_K / 100.0),
       below_25 * raw_Ah);
  line("cut-off voltage, V", rectangular(t.cutoff_mV * 1e-3), t.cutoff_slope_Ah_V);
  line("full charge and repeatability, Ah", t.repeatability_Ah, 1.0);
  if (t.interval_s > 0.0)  // half an interval at either end
    line("interval between rows, h", rectangular(0.5 * t.interval_s / 3600.0) * std::numbers::sqrt2,
         t.current.in(units::A));
  if (t.edge_s > 0.0)  // the step may have begun anywhere in it
    line("rows missing at an end, h", rectangular(t.edge_s / 3600.0), t.current.in(units::A));
  if (t.away_from_25_Ah > 0.0) line("not at 25 °C, Ah", rectangular(t.away_from_25_Ah), 1.0);
  if (t.full_charge_Ah > 0.0) line("charge not finished, Ah", rectangular(t.full_charge_Ah), 1.0);
  if (t.gap_Ah > 0.0) line("charge across gaps, Ah", rectangular(t.gap_Ah), 1.0);
  double variance = 0.0;
  for (const BudgetLine& l : result.budget) variance += l.contribution_Ah * l.contribution_Ah;
  result.at_25C = value * units::Ah;
  result.u = std::sqrt(variance) * units::Ah;
  result.expanded = result.u * 2.0;
  return result;
}

std::string_view name(Verdict verdict) {
  switch (verdict) {
    case Verdict::accept:
      return "accept";
    case Verdict::reject:
      return "reject";
    case Verdict::undecided:
      break;
  }
  return "undecided";
}

Judgement judge(double value, double u, double limit, LimitSide side, double risk) {
  CHECK(u >= 0.0 && risk > 0.0 && risk < 0.5);
  const double margin = side == LimitSide::lower ? value - limit : limit - value;
  Judgement j;
  if (u > 0.0)
    j.probability_conforming = base::normal_probability_below(margin / u);
  else
    j.probability_conforming = margin >= 0.0 ? 1.0 : 0.0;
  if (j.probability_conforming >= 1.0 - risk)
    j.verdict = Verdict::accept;
  else if (j.probability_conforming <= risk)
    j.verdict = Verdict::reject;
  return j;
}

}  // namespace bench
