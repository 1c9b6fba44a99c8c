// SPDX-License-Identifier: Apache-2.0
#include "bench/measure.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/statistics.hpp"

namespace bench {
namespace {

namespace units = base::units;
using base::Finding;
using base::Json;
using base::Severity;

constexpr double cut_off_V = 3.05;  // a discharge that ends below has passed the knee
constexpr double full_V = 3.40;     // a charge that ends above has passed it at the other end
constexpr double lowest_flat_V = 3.10, highest_flat_V = 3.40;
constexpr double cut_off_slope =
    0.05;  // capacity per volt near the cut-off, [Sunil2025] between 2.5 and 2.8 V

/// Phases of one direction that follow each other, taken together: one run of the cell.
struct Run {
  Kind kind = Kind::rest;
  double charge_Ah = 0.0, energy_Wh = 0.0, seconds = 0.0, mean_A = 0.0;
  double start_V = 0.0, end_V = 0.0;
  bool tapered = false, lasting = false;
  std::size_t first = 0, last = 0;  // rows
};

std::vector<Run> join_runs(const std::vector<Phase>& phases) {
  std::vector<Run> runs;
  for (const Phase& p : phases) {
    if (runs.empty() || runs.back().kind != p.kind)
      runs.push_back({.kind = p.kind, .start_V = p.start_V, .first = p.first});
    Run& run = runs.back();
    run.charge_Ah += p.charge_Ah;
    run.energy_Wh += p.energy_Wh;
    run.seconds = p.end_s;
    run.end_V = p.end_V;
    run.last = p.last;
    run.tapered = p.mode == Mode::constant_voltage;
    run.lasting = run.lasting || p.mode != Mode::pulse;
  }
  return runs;
}

/// A charge is finished when it tapered at its limit, or ran up to a voltage that only a full cell
/// has. Pulses finish nothing.
bool finished(const Run& run) {
  return run.kind == Kind::charge && run.lasting &&
         (run.tapered ? run.end_V >= full_V - 0.1 : run.end_V >= full_V);
}
bool emptied(const Run& run) {
  return run.kind == Kind::discharge && run.lasting && run.end_V <= cut_off_V;
}

std::optional<std::size_t> before_rest(const std::vector<Run>& runs, std::size_t i) {
  while (i-- > 0)
    if (runs[i].kind != Kind::rest) return i;
  return std::nullopt;
}

/// How far the cell's charge moved over the log, between its lowest and its highest.
double swing_Ah(const std::vector<Run>& runs) {
  double at = 0.0, low = 0.0, high = 0.0;
  for (const Run& r : runs) {
    if (r.kind == Kind::rest) continue;
    at += r.kind == Kind::charge ? r.charge_Ah : -r.charge_Ah;
    low = std::min(low, at);
    high = std::max(high, at);
  }
  return high - low;
}

/// The last discharge from a finished charge to a cut-off. What moved less than half of the log's
/// whole swing did not run from full to empty, whatever its voltages.
std::optional<std::size_t> capacity_run(const std::vector<Run>& runs) {
  const double least_Ah = 0.5 * swing_Ah(runs);
  for (std::size_t i = runs.size(); i-- > 0;) {
    if (!emptied(runs[i]) || runs[i].charge_Ah < least_Ah) continue;
    const auto before = before_rest(runs, i);
    if (before && finished(runs[*before])) return i;
  }
  return std::nullopt;
}

std::optional<std::size_t> charge_run(const std::vector<Run>& runs) {
  const double least_Ah = 0.01 * swing_Ah(runs);  // the end of a tail is no charge of its own
  for (std::size_t i = runs.size(); i-- > 0;)
    if (finished(runs[i]) && runs[i].charge_Ah >= least_Ah) return i;
  return std::nullopt;
}

/// Seconds that run takes, from the rows before to after.
double seconds_of(const Log& log, const Run& run) {
  return std::max(log.time_s[run.last] - log.time_s[run.first], 1.0);
}

std::optional<double> mean_temperature(const Log& log, std::size_t first, std::size_t last) {
  if (log.temperature_C.empty()) return std::nullopt;
  double sum = 0.0;
  std::size_t n = 0;
  for (std::size_t i = first; i <= last; ++i)
    if (std::isfinite(log.temperature_C[i])) sum += log.temperature_C[i], ++n;
  if (n == 0) return std::nullopt;
  return sum / double(n);
}

Capacity budget_of(const Log& log, const Run& run, const Tester& tester) {
  const double seconds = seconds_of(log, run);
  // The figure itself stays as measured; the budget adds what its temperature, known or not, leaves
  // open.
  return capacity_with_uncertainty(
      {.current = run.charge_Ah * 3600.0 / seconds * units::A,
       .time = seconds * units::s,
       .temperature = base::Temperature::from_C(25.0),
       .gain_percent = tester.gain_percent,
       .offset_A = tester.offset_A,
       .clock_ppm = tester.clock_ppm,
       .temperature_halfwidth_K = tester.temperature_halfwidth_K,
       .cutoff_mV = tester.cutoff_mV,
       .cutoff_slope_Ah_V = cut_off_slope * run.charge_Ah,
       .repeatability_Ah = tester.repeatability_percent / 100.0 * run.charge_Ah});
}

Measure energy_measure(double energy_Wh, double charge_Ah, double u_Ah, const Tester& tester) {
  const double from_charge = charge_Ah > 0.0 ? u_Ah / charge_Ah : 0.0;
  const double from_voltage = tester.voltage_gain_percent / 100.0 / std::sqrt(3.0);
  return {energy_Wh, energy_Wh * std::hypot(from_charge, from_voltage)};
}

/// Gain and clock are common to charge and discharge on one tester and cancel in their ratio.
Measure ratio_measure(double out, double in, double hours, double charge_Ah, const Tester& tester) {
  const double offset = tester.offset_A / std::sqrt(3.0) * hours * 2.0 / charge_Ah;
  const double repeat = tester.repeatability_percent / 100.0 * std::sqrt(2.0);
  const double value = out / in;
  return {value, value * std::hypot(offset, repeat)};
}

void measure_efficiency(const Log& log, const std::vector<Run>& runs, const Tester& tester,
                        Measures& m) {
  const auto discharge = capacity_run(runs);
  if (!discharge) return;
  const Run& out = runs[*discharge];
  // A charge that began empty, right before; or the refill right after.
  std::optional<std::size_t> in;
  const std::size_t before = *before_rest(runs, *discharge);
  const auto earlier = before_rest(runs, before);
  const std::size_t first = runs[before].first;
  const double before_V = log.voltage_V[first > 0 ? first - 1 : first];
  if ((earlier && emptied(runs[*earlier])) || (!earlier && before_V <= cut_off_V)) in = before;
  for (std::size_t i = *discharge + 1; i < runs.size(); ++i) {
    if (runs[i].kind == Kind::rest) continue;
    if (finished(runs[i])) in = i;
    break;
  }
  if (!in) return;
  const double hours = (seconds_of(log, out) + seconds_of(log, runs[*in])) / 2.0 / 3600.0;
  m.coulombic_efficiency =
      ratio_measure(out.charge_Ah, runs[*in].charge_Ah, hours, out.charge_Ah, tester);
  m.energy_efficiency =
      ratio_measure(out.energy_Wh, runs[*in].energy_Wh, hours, out.charge_Ah, tester);
}

void measure_resistance(const Log& log, const Tester& tester, Measures& m) {
  double top = 0.0;
  for (const double i : log.current_A) top = std::max(top, std::abs(i));
  if (top == 0.0) return;
  auto steps = step_resistances(log, 10.0, 0.2 * top);
  std::erase_if(
      steps, [](const StepResistance& s) { return s.time_s > 120.0; });  // too sparse to be a step
  // Near full and empty the open-circuit voltage itself moves within seconds: take steps on the
  // flat part where there are any.
  const auto flat = [&](const StepResistance& s) {
    return log.voltage_V[s.row] >= lowest_flat_V && log.voltage_V[s.row] <= highest_flat_V;
  };
  m.resistance_on_flat_part = std::any_of(steps.begin(), steps.end(), flat);
  if (m.resistance_on_flat_part)
    std::erase_if(steps, [&](const StepResistance& s) { return !flat(s); });
  if (steps.empty()) return;
  std::vector<double> values, times;
  for (const StepResistance& s : steps) values.push_back(s.mOhm), times.push_back(s.time_s);
  const double value = base::median(values);
  // Robust spread of the mean, and what the meter's resolution and gain leave open.
  const double spread =
      1.4826 * base::median_absolute_deviation(values) / std::sqrt(double(values.size()));
  const double gain =
      value * std::hypot(tester.gain_percent, tester.voltage_gain_percent) / 100.0 / std::sqrt(3.0);
  const double resolution_mOhm =
      top > 0.0 ? 1.0 / top / std::sqrt(3.0) : 0.0;  // ± 1 mV over the step
  m.dc_resistance_mOhm =
      Measure{value, std::sqrt(spread * spread + gain * gain + resolution_mOhm * resolution_mOhm)};
  m.resistance_time_s = base::median(times);
}

void add_findings(const std::vector<Run>& runs, const Tester& tester, const Measures& m,
                  std::vector<Finding>& findings) {
  if (!tester.stated)
    findings.push_back(accuracy_assumed(
        tester, "Give the tester's accuracy with --tester FILE, or [tester] in the project."));
  if (m.dc_resistance_mOhm && !m.resistance_on_flat_part)
    findings.push_back({.id = "resistance-near-an-end",
                        .severity = Severity::note,
                        .what = "The log steps its current only near full or empty, where the "
                                "rested voltage itself moves: the resistance is an upper bound.",
                        .where = "log",
                        .measured = fmt::format("{:.3f} mΩ", m.dc_resistance_mOhm->value),
                        .limit = "",
                        .why = "It cannot be compared with a value from half charge.",
                        .remedy = "Step the current once near half charge.",
                        .basis = "common practice, no source"});
  if (!m.discharge_capacity_Ah) {
    const bool discharged = std::any_of(runs.begin(), runs.end(),
                                        [](const Run& r) { return r.kind == Kind::discharge; });
    const bool empty = std::any_of(runs.begin(), runs.end(), emptied);
    findings.push_back(
        {.id = "no-capacity",
         .severity = Severity::note,
         .what = !discharged ? "The log holds no discharge, so no capacity."
                 : !empty    ? "No discharge of this log runs down to a cut-off, so no capacity."
                          : "No discharge of this log starts from a finished charge, so its charge "
                            "is a lower bound, not the capacity.",
         .where = "log",
         .measured = "",
         .limit = "",
         .why = "Capacity is what a cell holds between full and empty.",
         .remedy = "Charge until the current tapers, rest, then discharge to the cut-off, all in "
                   "one log.",
         .basis = "[IEC62620] 6.3"});
  }
}

Json measure_json(const std::optional<Measure>& m) {
  if (!m) return nullptr;
  return {{"value", m->value}, {"u", m->u}};
}

}  // namespace

base::Finding accuracy_assumed(const Tester& tester, std::string remedy) {
  return {.id = "tester-accuracy-assumed",
          .severity = Severity::note,
          .what = "Nobody said how accurate the tester is; the uncertainties rest on assumptions.",
          .where = "tester",
          .measured = fmt::format("± {:g} % of current, ± {:g} A, ± {:g} mV at the cut-off",
                                  tester.gain_percent, tester.offset_A, tester.cutoff_mV),
          .limit = "",
          .why = "A verdict is only as good as the meter behind it.",
          .remedy = std::move(remedy),
          .basis = "common practice, no source"};
}

std::vector<StepResistance> step_resistances(const Log& log, double after_s, double least_A) {
  std::vector<StepResistance> found;
  const std::size_t n = log.rows();
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const double step = log.current_A[i + 1] - log.current_A[i];
    if (std::abs(step) < least_A) continue;
    std::size_t k = i + 1;
    bool steady = true;
    const bool settled_before =
        i == 0 || std::abs(log.current_A[i] - log.current_A[i - 1]) <= 0.05 * std::abs(step);
    while (k + 1 < n && log.time_s[k] - log.time_s[i] < after_s && steady) {
      ++k;
      steady = std::abs(log.current_A[k] - log.current_A[i + 1]) <= 0.05 * std::abs(step);
    }
    const double waited = log.time_s[k] - log.time_s[i];
    if (after_s > 0.0 && (!steady || !settled_before || waited < after_s)) continue;
    const double jump =
        log.voltage_V[i] - log.voltage_V[k];  // falls as the discharge current rises
    const double ohms = jump / (log.current_A[k] - log.current_A[i]);
    if (ohms > 0.0) found.push_back({ohms * 1e3, waited, i});
  }
  return found;
}

Report measure(const Log& log, const Tester& tester) {
  Report report;
  report.phases = find_phases(log);
  Measures& m = report.measures;
  m.totals = totals(log);
  m.mean_temperature_C = mean_temperature(log, 0, log.rows() - 1);
  const std::vector<Run> runs = join_runs(report.phases);
  if (const auto i = capacity_run(runs)) {
    const Capacity c = budget_of(log, runs[*i], tester);
    m.discharge_capacity_Ah = Measure{runs[*i].charge_Ah, c.u.in(units::Ah)};
    m.discharge_energy_Wh =
        energy_measure(runs[*i].energy_Wh, runs[*i].charge_Ah, c.u.in(units::Ah), tester);
    m.capacity_budget = c.budget;
    if (const auto t = mean_temperature(log, runs[*i].first, runs[*i].last))
      m.mean_temperature_C = t;
  }
  if (const auto i = charge_run(runs)) {
    const double u = budget_of(log, runs[*i], tester).u.in(units::Ah);
    m.charge_capacity_Ah = Measure{runs[*i].charge_Ah, u};
    m.charge_energy_Wh = energy_measure(runs[*i].energy_Wh, runs[*i].charge_Ah, u, tester);
  }
  measure_efficiency(log, runs, tester, m);
  measure_resistance(log, tester, m);
  report.findings = log.findings;
  add_findings(runs, tester, m, report.findings);
  base::sort_by_severity(report.findings);
  return report;
}

Json to_json(const Log& log, const Report& report) {
  Json columns = Json::array();
  for (const Column& c : log.columns)
    columns.push_back(
        {{"meaning", c.meaning}, {"header", c.header}, {"unit", c.unit}, {"scale", c.scale}});
  Json phases = Json::array();
  for (const Phase& p : report.phases)
    phases.push_back({{"kind", name(p.kind)},
                      {"mode", name(p.mode)},
                      {"start_s", p.start_s},
                      {"end_s", p.end_s},
                      {"charge_Ah", p.charge_Ah},
                      {"energy_Wh", p.energy_Wh},
                      {"mean_current_A", p.mean_current_A},
                      {"start_V", p.start_V},
                      {"end_V", p.end_V}});
  const Measures& m = report.measures;
  const auto plain = [](const std::optional<double>& x) { return x ? Json(*x) : Json(nullptr); };
  Json measures = {{"discharge_capacity_Ah", measure_json(m.discharge_capacity_Ah)},
                   {"charge_capacity_Ah", measure_json(m.charge_capacity_Ah)},
                   {"discharge_energy_Wh", measure_json(m.discharge_energy_Wh)},
                   {"charge_energy_Wh", measure_json(m.charge_energy_Wh)},
                   {"charged_Ah", m.totals.charged_Ah},
                   {"discharged_Ah", m.totals.discharged_Ah},
                   {"net_Ah", m.totals.charged_Ah - m.totals.discharged_Ah},
                   {"charged_Wh", m.totals.charged_Wh},
                   {"discharged_Wh", m.totals.discharged_Wh},
                   {"coulombic_efficiency", measure_json(m.coulombic_efficiency)},
                   {"energy_efficiency", measure_json(m.energy_efficiency)},
                   {"dc_resistance_mOhm", measure_json(m.dc_resistance_mOhm)},
                   {"resistance_time_s", plain(m.resistance_time_s)},
                   {"mean_temperature_C", plain(m.mean_temperature_C)}};
  return {{"rows", log.rows_used()},         {"rows_rejected", log.rows_left_out()},
          {"columns", std::move(columns)},   {"phases", std::move(phases)},
          {"measures", std::move(measures)}, {"findings", base::to_json(report.findings)}};
}

}  // namespace bench
