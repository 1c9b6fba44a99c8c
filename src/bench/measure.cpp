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
using findings::Finding;
using findings::Severity;

constexpr double empty_V = 3.05;
constexpr double cut_off_slope =
    0.05;  // capacity per volt near the cut-off, [Sunil2025] between 2.5 and 2.8 V
constexpr double not_tapered_share =
    0.02;                             // left out of a charge that did not taper (common practice)
constexpr double early_V = 0.15;      // above the sheet's limit: stopped early
constexpr double least_refill = 0.9;  // of a discharge: else it was not refilled
constexpr double most_doubtful = 0.025;   // of a capacity; more, and it is only bounded
constexpr double slow_rate_per_h = 0.06;  // up to which dQ/dV peaks stay where they are

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

/// What is not known of a run because rows are missing.
struct Missing {
  double interval_s = 0.0;  ///< between rows at its ends
  double edge_s = 0.0;      ///< longer stretches at its ends: all of it may have flowed
  double inside_Ah = 0.0;   ///< across gaps inside
};

Missing missing_in(const logs::Log& log, const Run& run) {
  Missing m;
  const double at_end =
      run.last + 1 < log.rows() ? log.time_s[run.last + 1] - log.time_s[run.last] : 0.0;
  const double at_start = run.first > 0 ? log.time_s[run.first] - log.time_s[run.first - 1] : 0.0;
  const double longest = log.edge_s > 0.0 ? log.edge_s : 1e9;
  for (const double dt : {at_start, at_end})
    (dt > longest ? m.edge_s : m.interval_s) =
        std::hypot(dt > longest ? m.edge_s : m.interval_s, dt);
  m.interval_s /= std::sqrt(2.0);
  for (const logs::Gap& gap : log.gaps)
    if (gap.flowing && gap.start_s >= run.start_s - 1e-9 && gap.end_s <= run.end_s + 1e-9) {
      // A counter that ran on settles it; one that hardly moved may have stood still itself.
      if (!gap.counted)
        m.inside_Ah += gap.doubtful_Ah;
      else if (gap.counter_Ah < 0.5 * gap.doubtful_Ah)
        m.inside_Ah += gap.doubtful_Ah - gap.counter_Ah;
    }
  return m;
}

double mean_current(const Run& run) {
  return run.charge_Ah * 3600.0 / std::max(run.flowing_s, 1.0);
}

/// A charge is finished for certain where its current has fallen: a voltage limit alone is not
/// full.
bool tapered_at_end(const logs::Log& log, const Run& charge) {
  return charge.tapered || std::abs(log.current_A[charge.last]) < 0.5 * mean_current(charge);
}

/// Charge per volt where the discharge ends: from the last twentieth of a volt of the log, at least
/// what published curves show.
double slope_at_end(const logs::Log& log, const Run& run) {
  double moved_Ah = 0.0;
  for (std::size_t k = run.last + 1; k-- > run.first;) {
    moved_Ah += std::abs(log.charge_As[k]) / 3600.0;
    if (const double rise = log.voltage_V[k] - log.voltage_V[run.last]; rise >= 0.05)
      return std::max(cut_off_slope * run.charge_Ah, moved_Ah / rise);
  }
  return cut_off_slope * run.charge_Ah;
}

/// `before`: the charge that the run started from, for a capacity.
Capacity budget_of(const logs::Log& log, const Run& run, const Tester& tester,
                   const Run* before = nullptr) {
  const Missing missing = missing_in(log, run);
  const auto temperature = mean_temperature(log, run.first, run.last);
  // The figure itself stays as measured; the budget adds what its temperature, known or not, leaves
  // open against 25 °C.
  return capacity_with_uncertainty(
      {.current = mean_current(run) * units::A,
       .time = std::max(run.flowing_s, 1.0) * units::s,
       .temperature = base::Temperature::from_C(25.0),
       .gain_percent = tester.gain_percent,
       .offset_A = tester.offset_A,
       .clock_ppm = tester.clock_ppm,
       .temperature_halfwidth_K =
           temperature ? tester.temperature_halfwidth_K : tester.room_halfwidth_K,
       .cutoff_mV = tester.cutoff_mV,
       .cutoff_slope_Ah_V = slope_at_end(log, run),
       .repeatability_Ah = tester.repeatability_percent / 100.0 * run.charge_Ah,
       .interval_s = missing.interval_s,
       .edge_s = missing.edge_s,
       .away_from_25_Ah = temperature ? 0.001 * std::abs(25.0 - *temperature) * run.charge_Ah : 0.0,
       .full_charge_Ah = before != nullptr && !tapered_at_end(log, *before)
                             ? not_tapered_share * run.charge_Ah
                             : 0.0,
       .gap_Ah = missing.inside_Ah});
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
Measure ratio_measure(double out, double in, double hours, double charge_Ah, double missing_share,
                      const Tester& tester) {
  const double offset = tester.offset_A / std::sqrt(3.0) * hours * 2.0 / charge_Ah;
  const double repeat = tester.repeatability_percent / 100.0 * std::sqrt(2.0);
  const double value = out / in;
  const double missing = missing_share / std::sqrt(3.0);
  return {value, value * std::sqrt(offset * offset + repeat * repeat + missing * missing)};
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
  if (*discharge + 1 < runs.size() && finished(runs[*discharge + 1]) &&
      runs[*discharge + 1].charge_Ah > least_refill * out.charge_Ah)
    in = *discharge + 1;
  if (!in) return;
  const double missing_share =
      (missing_in(log, runs[*in]).inside_Ah + missing_in(log, out).inside_Ah) / out.charge_Ah;
  if (missing_share > most_doubtful) return;
  const double hours = (out.flowing_s + runs[*in].flowing_s) / 2.0 / 3600.0;
  m.coulombic_efficiency = ratio_measure(out.charge_Ah, runs[*in].charge_Ah, hours, out.charge_Ah,
                                         missing_share, tester);
  m.energy_efficiency = ratio_measure(out.energy_Wh, runs[*in].energy_Wh, hours, out.charge_Ah,
                                      missing_share, tester);
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

void add_findings(const logs::Log& log, const std::vector<Run>& runs, const Tester& tester,
                  const ReferenceConditions& reference, const Measures& m,
                  std::vector<Finding>& findings) {
  if (!tester.stated)
    findings.push_back(accuracy_assumed(
        tester, "Give the tester's accuracy with --tester FILE, or [tester] in the project."));
  if (m.resistance && !m.resistance->on_flat_part)
    findings.push_back({.id = findings::Id::resistance_near_an_end,
                        .severity = Severity::note,
                        .what = "The log steps its current only near full or empty, where the "
                                "rested voltage itself moves: the resistance is an upper bound.",
                        .where = "log",
                        .measured = fmt::format("{:.3f} mΩ", m.resistance->mOhm.value),
                        .why = "It cannot be compared with a value from half charge.",
                        .remedy = "Step the current once near half charge.",
                        .basis = "common practice, no source"});
  if (m.lead_drop_mV)
    findings.push_back(
        {.id = findings::Id::lead_drop,
         .severity = Severity::note,
         .what = "The tester reads voltage over the leads that carry the current; their drop is "
                 "taken off voltages, energies and resistances.",
         .where = "tester",
         .measured = fmt::format("{:.0f} mV at the discharge current", *m.lead_drop_mV),
         .why =
             "The test stopped that much before the cell itself was at the cut-off: energy reads "
             "too low by it, capacity a little.",
         .remedy = "Compare the capacity at reference conditions; better, sense on the terminals "
                   "with two more wires.",
         .basis = "Ohm's law"});
  if (const auto i = capacity_run(runs); i && !tapered_at_end(log, runs[*i - 1]))
    findings.push_back(
        {.id = findings::Id::charge_not_tapered,
         .severity = Severity::caution,
         .what = "The charge before stopped at its voltage with the current still high: the cell "
                 "was not quite full.",
         .where = "log",
         .measured = fmt::format("{:.3f} V at {:.2f} A", runs[*i - 1].end_V,
                                 std::abs(log.current_A[runs[*i - 1].last])),
         .limit = "half of its mean current",
         .why =
             "A few percent of charge go in while the current tapers; the capacity reads that much "
             "too low.",
         .remedy = "Charge until the current has fallen to a twentieth of the capacity.",
         .basis = "common practice, no source"});
  if (m.conditions && m.conditions->end_V > reference.cut_off_V + early_V)
    findings.push_back(
        {.id = findings::Id::stopped_early,
         .severity = Severity::caution,
         .what = "The discharge stopped well above the lower limit: the capacity is a lower bound.",
         .where = "log",
         .measured = fmt::format("{:.3f} V", m.conditions->end_V),
         .limit = fmt::format("{:g} V", reference.cut_off_V),
         .why = "What is left below is in the cell, and was not counted.",
         .remedy = "Look at the capacity at reference conditions, or test to the limit.",
         .basis = "[IEC62620] 6.3"});
  if (m.coulombic_efficiency &&
      m.coulombic_efficiency->value - 2.0 * m.coulombic_efficiency->u > 1.0)
    findings.push_back(
        {.id = findings::Id::more_out_than_in,
         .severity = Severity::caution,
         .what = "More charge came out than went in, beyond what the tester leaves open.",
         .where = "log",
         .measured = fmt::format("{:.4f}", m.coulombic_efficiency->value),
         .limit = "1",
         .why =
             "No cell does that: the charge was not from empty, or one direction is counted wrongly.",
         .remedy =
             "Check the tester's offset with its leads open, and that the charge began empty.",
         .basis = "conservation of charge"});
  if (const auto i = capacity_run(runs); i && runs[*i].interruptions > 0)
    findings.push_back(
        {.id = findings::Id::interrupted,
         .severity = Severity::note,
         .what = fmt::format("The discharge was interrupted {} time{}, for {:.1f} h in all; its "
                             "parts are taken together.",
                             runs[*i].interruptions, runs[*i].interruptions == 1 ? "" : "s",
                             runs[*i].interrupted_s / 3600.0),
         .where = "log",
         .why = "A rest lets the voltage come back, so a spliced test may reach a little further "
                "than one in one go.",
         .remedy = "Test again in one go where the verdict hangs on a few tenths of a percent.",
         .basis = "common practice, no source"});
  if (m.rest_drift && !m.self_discharge_percent_month)
    findings.push_back({.id = findings::Id::drift_on_the_flat_part,
                        .severity = Severity::note,
                        .what = "The long rest lies on the flat part of the curve: its drift says "
                                "nothing about self-discharge.",
                        .where = "log",
                        .measured = fmt::format("{:+.2f} mV a day", m.rest_drift->mV_per_day),
                        .why = "There a millivolt may be a few percent of charge, or none.",
                        .remedy =
                            "Rest the cell full (above 98 %) or nearly empty (below 10 %) for "
                            "two weeks, or measure the charge that refills it.",
                        .basis = "[Sunil2025] open-circuit curve"});
  if (m.capacity_bounds_Ah) {
    findings.push_back(
        {.id = findings::Id::capacity_bounded,
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
        {.id = findings::Id::no_capacity,
         .severity = Severity::note,
         .what = !discharged ? "The log holds no discharge, so no capacity."
                 : !empty    ? "No discharge of this log runs down to a cut-off, so no capacity."
                          : "No discharge of this log starts from a finished charge, so its charge "
                            "is a lower bound, not the capacity.",
         .where = "log",
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
  if (capacity) {
    const Run& out = runs[*capacity];
    const Missing missing = missing_in(log, out);
    const double open_Ah = missing.inside_Ah + missing.edge_s * mean_current(out) / 3600.0;
    double lines_Ah = 0.0;  // what straight lines put in already
    for (const logs::Gap& gap : log.gaps)
      if (gap.flowing && !gap.counted && gap.start_s >= out.start_s - 1e-9 &&
          gap.end_s <= out.end_s + 1e-9)
        lines_Ah += gap.doubtful_Ah;
    const double low = out.charge_Ah - lines_Ah, high = low + open_Ah;
    // A cell cannot give more than was put into it from empty: that settles what nothing else does.
    const Run& in = runs[*capacity - 1];
    const double before_V = log.voltage_V[in.first > 0 ? in.first - 1 : in.first];
    const bool from_empty = before_V <= empty_V || (*capacity >= 2 && emptied(runs[*capacity - 2]));
    const bool refuted =
        from_empty && lines_Ah == 0.0 && high > 1.1 * in.charge_Ah && missing.edge_s == 0.0;
    if (open_Ah > most_doubtful * out.charge_Ah && !refuted)
      m.capacity_bounds_Ah = std::array<double, 2>{low, high};
  }
  if (m.capacity_bounds_Ah) {
  } else if (capacity) {
    const Run& out = runs[*capacity];
    const Run& before = runs[*capacity - 1];
    const Capacity c = budget_of(log, out, tester, &before);
    const double u = c.u.in(units::Ah);
    const double amps = mean_current(out);
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
      if (!line.input.starts_with("temperature") && !line.input.starts_with("not at 25"))
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
    const double amps = mean_current(in);
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
  add_findings(log, runs, tester, conditions, m, report.findings);
  findings::sort_by_severity(report.findings);
  return report;
}

}  // namespace

findings::Finding accuracy_assumed(const Tester& tester, std::string remedy) {
  return {
      .id = findings::Id::tester_accuracy_assumed,
      .severity = Severity::note,
      .what = fmt::format(
          "Nobody said how accurate the tester is; assumed are ± {:g} % of current, ± {:g} A, "
          "± {:g} ppm of time, ± {:g} mV at the cut-off, ± {:g} % of voltage, ± {:g} K (± {:g} K "
          "without a temperature), {:g} % from test to test.",
          tester.gain_percent, tester.offset_A, tester.clock_ppm, tester.cutoff_mV,
          tester.voltage_gain_percent, tester.temperature_halfwidth_K, tester.room_halfwidth_K,
          tester.repeatability_percent),
      .where = "tester",
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
