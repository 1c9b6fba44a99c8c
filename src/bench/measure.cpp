// SPDX-License-Identifier: Apache-2.0
#include "bench/measure.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/statistics.hpp"
#include "cell/chemistry.hpp"

namespace bench {
namespace {

namespace units = base::units;
using base::Finding;
using base::Severity;

constexpr double empty_V = 3.05;
constexpr double cut_off_slope =
    0.05;  // capacity per volt near the cut-off, [Sunil2025] between 2.5 and 2.8 V
constexpr double most_doubtful = 0.02;    // of a capacity; more, and it is only bounded
constexpr double slow_rate_per_h = 0.06;  // up to which dQ/dV peaks stay where they are

/// Seconds that a run takes, from its first row to its last.
double seconds_of(const Run& run) { return std::max(run.end_s - run.start_s, 1.0); }

std::optional<double> mean_temperature(const logs::Log& log, std::size_t first, std::size_t last) {
  if (log.temperature_C.empty()) return std::nullopt;
  double sum = 0.0, seconds = 0.0;
  for (std::size_t i = first; i <= last; ++i)
    if (std::isfinite(log.temperature_C[i])) {
      const double share = std::max(log.share_s[i], 1e-6);
      sum += share * log.temperature_C[i];
      seconds += share;
    }
  if (seconds <= 0.0) return std::nullopt;
  return sum / seconds;
}

/// The interval between rows where the run begins and ends.
double interval_at_ends(const logs::Log& log, const Run& run) {
  const double at_end = run.last + 1 < log.rows() ? log.time_s[run.last + 1] - log.time_s[run.last]
                                                  : log.time_s[run.last] - log.time_s[run.last - 1];
  const double at_start =
      run.first > 0 ? log.time_s[run.first] - log.time_s[run.first - 1] : at_end;
  const double usual = seconds_of(run) / std::max<double>(1.0, double(run.last - run.first));
  // Gaps have their own line in the budget.
  const double longest = log.gap_s > 0.0 ? log.gap_s : 1e9;
  return std::hypot(at_start > longest ? usual : at_start, at_end > longest ? usual : at_end) /
         std::sqrt(2.0);
}

/// Charge that straight lines across gaps carry within a run.
double doubtful_in(const logs::Log& log, const Run& run) {
  double sum = 0.0;
  for (const logs::Gap& gap : log.gaps)
    if (!gap.counted && gap.end_s >= run.start_s - 1e-9 && gap.start_s <= run.end_s + 1e-9)
      sum += gap.doubtful_Ah;
  return sum;
}

Capacity budget_of(const logs::Log& log, const Run& run, const Tester& tester) {
  const double gap_Ah = doubtful_in(log, run);
  const bool temperature_known = mean_temperature(log, run.first, run.last).has_value();
  // The figure itself stays as measured; the budget adds what its temperature, known or not, leaves
  // open.
  return capacity_with_uncertainty(
      {.current = run.charge_Ah * 3600.0 / std::max(run.flowing_s, 1.0) * units::A,
       .time = std::max(run.flowing_s, 1.0) * units::s,
       .temperature = base::Temperature::from_C(25.0),
       .gain_percent = tester.gain_percent,
       .offset_A = tester.offset_A,
       .clock_ppm = tester.clock_ppm,
       .temperature_halfwidth_K =
           temperature_known ? tester.temperature_halfwidth_K : tester.room_halfwidth_K,
       .cutoff_mV = tester.cutoff_mV,
       .cutoff_slope_Ah_V = cut_off_slope * run.charge_Ah,
       .repeatability_Ah = tester.repeatability_percent / 100.0 * run.charge_Ah,
       .interval_s = interval_at_ends(log, run),
       .gap_Ah = gap_Ah});
}

Measure energy_measure(double energy_Wh, double charge_Ah, double u_Ah, double current_A,
                       const Tester& tester) {
  const double from_charge = charge_Ah > 0.0 ? u_Ah / charge_Ah : 0.0;
  const double from_voltage = tester.voltage_gain_percent / 100.0 / std::sqrt(3.0);
  const double mean_V = charge_Ah > 0.0 ? energy_Wh / charge_Ah : 1.0;
  const double from_leads =
      tester.lead_halfwidth_mOhm() * 1e-3 * current_A / mean_V / std::sqrt(3.0);
  return {energy_Wh, energy_Wh * std::sqrt(from_charge * from_charge + from_voltage * from_voltage +
                                           from_leads * from_leads)};
}

/// Gain and clock are common to charge and discharge on one tester and cancel in their ratio.
Measure ratio_measure(double out, double in, double hours, double charge_Ah, const Tester& tester) {
  const double offset = tester.offset_A / std::sqrt(3.0) * hours * 2.0 / charge_Ah;
  const double repeat = tester.repeatability_percent / 100.0 * std::sqrt(2.0);
  const double value = out / in;
  return {value, value * std::hypot(offset, repeat)};
}

void measure_efficiency(const logs::Log& log, const std::vector<Run>& runs, const Tester& tester,
                        Measures& m) {
  const auto discharge = capacity_run(runs);
  if (!discharge || m.capacity_bounds_Ah) return;
  const Run& out = runs[*discharge];
  // A charge that began empty, right before; or the refill right after.
  std::optional<std::size_t> in;
  const std::size_t before = *discharge - 1;
  const std::size_t first = runs[before].first;
  const double before_V = log.voltage_V[first > 0 ? first - 1 : first];
  if ((before > 0 && emptied(runs[before - 1])) || (before == 0 && before_V <= empty_V))
    in = before;
  if (*discharge + 1 < runs.size() && finished(runs[*discharge + 1])) in = *discharge + 1;
  if (!in) return;
  const double hours = (out.flowing_s + runs[*in].flowing_s) / 2.0 / 3600.0;
  m.coulombic_efficiency =
      ratio_measure(out.charge_Ah, runs[*in].charge_Ah, hours, out.charge_Ah, tester);
  m.energy_efficiency =
      ratio_measure(out.energy_Wh, runs[*in].energy_Wh, hours, out.charge_Ah, tester);
}

/// The longest rest that is long enough, and what its drift says where the curve is steep.
void measure_self_discharge(const logs::Log& log, const std::vector<Rest>& rests, Measures& m) {
  const Rest* longest = nullptr;
  for (const Rest& r : rests)
    if (longest == nullptr || r.seconds > longest->seconds) longest = &r;
  if (longest == nullptr) return;
  m.rest_drift = rest_drift(log, *longest);
  if (!m.rest_drift) return;
  const auto span = cell::charge_from_rest(longest->end_V * units::V, 5.0 * units::mV);
  if (!span || span->high - span->low > 0.05) return;  // on the flat part voltage says nothing
  const double slope_V = cell::open_circuit_slope_V(0.5 * (span->low + span->high));
  if (slope_V <= 0.0) return;
  const double percent_month = 100.0 * 30.0 * 1e-3 / slope_V;
  // The slope of another make's curve may be off by half.
  const double value = std::max(0.0, -m.rest_drift->mV_per_day * percent_month);
  m.self_discharge_percent_month =
      Measure{value, std::hypot(m.rest_drift->u_mV_per_day * percent_month, 0.3 * value)};
}

void find_peaks(const logs::Log& log, const std::vector<Run>& runs, Measures& m) {
  const Run* slowest = nullptr;
  for (const Run& r : runs) {
    const double rate = 3600.0 / std::max(r.flowing_s, 1.0);
    if (!r.lasting || rate > slow_rate_per_h || r.interruptions > 0) continue;
    if (slowest == nullptr || r.flowing_s > slowest->flowing_s) slowest = &r;
  }
  if (slowest == nullptr) return;
  std::vector<double> charge, volts;
  double moved = 0.0;
  for (std::size_t k = slowest->first; k <= slowest->last; ++k) {
    moved += std::abs(log.charge_As[k]) / 3600.0;
    charge.push_back(moved);
    volts.push_back(log.voltage_V[k]);
  }
  m.peaks = incremental_peaks(incremental_capacity(charge, volts));
}

void add_findings(const std::vector<Run>& runs, const Tester& tester, const Measures& m,
                  std::vector<Finding>& findings) {
  if (!tester.stated)
    findings.push_back(accuracy_assumed(
        tester, "Give the tester's accuracy with --tester FILE, or [tester] in the project."));
  if (m.resistance && !m.resistance->on_flat_part)
    findings.push_back({.id = "resistance-near-an-end",
                        .severity = Severity::note,
                        .what = "The log steps its current only near full or empty, where the "
                                "rested voltage itself moves: the resistance is an upper bound.",
                        .where = "log",
                        .measured = fmt::format("{:.3f} mΩ", m.resistance->mOhm.value),
                        .limit = "",
                        .why = "It cannot be compared with a value from half charge.",
                        .remedy = "Step the current once near half charge.",
                        .basis = "common practice, no source"});
  if (m.lead_drop_mV)
    findings.push_back(
        {.id = "lead-drop",
         .severity = Severity::note,
         .what = "The tester reads voltage over the leads that carry the current; their drop is "
                 "taken off voltages, energies and resistances.",
         .where = "tester",
         .measured = fmt::format("{:.0f} mV at the discharge current", *m.lead_drop_mV),
         .limit = "",
         .why =
             "The test stopped that much before the cell itself was at the cut-off: energy reads "
             "too low by it, capacity a little.",
         .remedy = "Compare the capacity at reference conditions; better, sense on the terminals "
                   "with two more wires.",
         .basis = "Ohm's law"});
  if (const auto i = capacity_run(runs); i && runs[*i].interruptions > 0)
    findings.push_back(
        {.id = "interrupted",
         .severity = Severity::note,
         .what = fmt::format("The discharge was interrupted {} time{}, for {:.1f} h in all; its "
                             "parts are taken together.",
                             runs[*i].interruptions, runs[*i].interruptions == 1 ? "" : "s",
                             runs[*i].interrupted_s / 3600.0),
         .where = "log",
         .measured = "",
         .limit = "",
         .why = "A rest lets the voltage come back, so a spliced test may reach a little further "
                "than one in one go.",
         .remedy = "Test again in one go where the verdict hangs on a few tenths of a percent.",
         .basis = "common practice, no source"});
  if (m.rest_drift && !m.self_discharge_percent_month)
    findings.push_back({.id = "drift-on-the-flat-part",
                        .severity = Severity::note,
                        .what = "The long rest lies on the flat part of the curve: its drift says "
                                "nothing about self-discharge.",
                        .where = "log",
                        .measured = fmt::format("{:+.2f} mV a day", m.rest_drift->mV_per_day),
                        .limit = "",
                        .why = "There a millivolt may be a few percent of charge, or none.",
                        .remedy =
                            "Rest the cell full (above 98 %) or nearly empty (below 10 %) for "
                            "two weeks, or measure the charge that refills it.",
                        .basis = "[Sunil2025] open-circuit curve"});
  if (m.capacity_bounds_Ah) {
    findings.push_back(
        {.id = "capacity-bounded",
         .severity = Severity::caution,
         .what = "Rows are missing from the discharge, and nothing says what flowed meanwhile: the "
                 "capacity lies between two bounds.",
         .where = "log",
         .measured =
             fmt::format("{:.2f} Ah without what is missing, {:.2f} Ah with a straight line",
                         (*m.capacity_bounds_Ah)[0], (*m.capacity_bounds_Ah)[1]),
         .limit = fmt::format("{:g} % of the capacity", 100.0 * most_doubtful),
         .why = "No verdict can stand on it.",
         .remedy = "Test again; or give the tester's own Ah column, where there is one.",
         .basis = "common practice, no source"});
    return;
  }
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

/// Voltages as they are at the cell: what two leads drop is taken off.
logs::Log at_the_cell(const logs::Log& log, double ohm) {
  logs::Log corrected = log;
  for (std::size_t k = 0; k < log.rows(); ++k) {
    corrected.voltage_V[k] += ohm * log.current_A[k];
    corrected.energy_Ws[k] += ohm * log.current_A[k] * log.charge_As[k];
  }
  return corrected;
}

Report measure_at_the_cell(const logs::Log& log, const Tester& tester,
                           const ReferenceConditions& conditions) {
  Report report;
  report.phases = find_phases(log);
  report.runs = find_runs(report.phases);
  const std::vector<Run>& runs = report.runs;
  Measures& m = report.measures;
  m.totals = totals(log);
  m.mean_temperature_C = mean_temperature(log, 0, log.rows() - 1);
  m.resistance = dc_resistance(log, tester, 10.0, 120.0);
  m.resistance_1s = dc_resistance(log, tester, 1.0, 2.5);
  m.resistance_30s = dc_resistance(log, tester, 30.0, 60.0);
  const auto capacity = capacity_run(runs);
  if (capacity && doubtful_in(log, runs[*capacity]) > most_doubtful * runs[*capacity].charge_Ah) {
    const Run& out = runs[*capacity];
    double lines = 0.0;
    for (const logs::Gap& gap : log.gaps)
      if (gap.flowing && !gap.counted && gap.start_s >= out.start_s - 1e-9 &&
          gap.end_s <= out.end_s + 1e-9)
        lines += gap.doubtful_Ah;
    m.capacity_bounds_Ah = std::array<double, 2>{out.charge_Ah - lines, out.charge_Ah};
  } else if (capacity) {
    const Run& out = runs[*capacity];
    const Run& before = runs[*capacity - 1];
    const Capacity c = budget_of(log, out, tester);
    const double u = c.u.in(units::Ah);
    const double amps = out.charge_Ah * 3600.0 / std::max(out.flowing_s, 1.0);
    m.discharge_capacity_Ah = Measure{out.charge_Ah, u};
    m.discharge_energy_Wh = energy_measure(out.energy_Wh, out.charge_Ah, u, amps, tester);
    m.mean_discharge_V = out.energy_Wh / out.charge_Ah;
    m.capacity_budget = c.budget;
    const auto temperature = mean_temperature(log, out.first, out.last);
    if (temperature) m.mean_temperature_C = temperature;
    m.conditions = Conditions{.current_A = amps,
                              .rate_per_h = amps / out.charge_Ah,
                              .end_V = out.end_V,
                              .full_V = before.end_V,
                              .tail_A = std::abs(log.current_A[before.last]),
                              .rest_h = std::max(0.0, out.start_s - before.end_s) / 3600.0};
    double without_temperature = 0.0;
    for (const BudgetLine& line : c.budget)
      if (!line.input.starts_with("temperature"))
        without_temperature += line.contribution_Ah * line.contribution_Ah;
    m.reference =
        to_reference({.capacity_Ah = out.charge_Ah,
                      .u_Ah = std::sqrt(without_temperature),
                      .current_A = amps,
                      .end_V = out.end_V,
                      .temperature_C = temperature,
                      .temperature_halfwidth_K =
                          temperature ? tester.temperature_halfwidth_K : tester.room_halfwidth_K,
                      .resistance_mOhm = m.resistance && m.resistance->on_flat_part
                                             ? std::optional(m.resistance->mOhm.value)
                                             : std::nullopt},
                     conditions);
    if (tester.drop_mOhm() > 0.0) m.lead_drop_mV = tester.drop_mOhm() * amps;
  }
  if (const auto i = full_charge_run(runs)) {
    const Run& in = runs[*i];
    const double u = budget_of(log, in, tester).u.in(units::Ah);
    const double amps = in.charge_Ah * 3600.0 / std::max(in.flowing_s, 1.0);
    m.charge_capacity_Ah = Measure{in.charge_Ah, u};
    m.charge_energy_Wh = energy_measure(in.energy_Wh, in.charge_Ah, u, amps, tester);
    if (in.charge_Ah > 0.0) m.mean_charge_V = in.energy_Wh / in.charge_Ah;
    if (in.tapered) {
      const double share = in.charge_Ah > 0.0 ? in.tail_Ah / in.charge_Ah : 0.0;
      // Gain in proportion; the offset for as long as the tail lasts, at most the whole charge.
      const double offset = tester.offset_A / std::sqrt(3.0) * in.flowing_s / 3600.0;
      m.tail_charge_Ah =
          Measure{in.tail_Ah, std::hypot(u * share, offset * std::min(1.0, 3.0 * share))};
    }
  }
  measure_efficiency(log, runs, tester, m);
  report.rests = find_rests(report.phases, m.discharge_capacity_Ah
                                               ? std::optional(m.discharge_capacity_Ah->value)
                                               : std::nullopt);
  measure_self_discharge(log, report.rests, m);
  find_peaks(log, runs, m);
  report.findings = log.findings;
  add_findings(runs, tester, m, report.findings);
  base::sort_by_severity(report.findings);
  return report;
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

Report measure(const logs::Log& log, const Tester& tester, const ReferenceConditions& conditions) {
  const double ohm = tester.drop_mOhm() * 1e-3;
  return ohm > 0.0 ? measure_at_the_cell(at_the_cell(log, ohm), tester, conditions)
                   : measure_at_the_cell(log, tester, conditions);
}

}  // namespace bench
