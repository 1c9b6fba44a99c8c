// SPDX-License-Identifier: Apache-2.0
#include "bench/measure.hpp"

#include <algorithm>
#include <cmath>

#include "bench/leads.hpp"
#include "bench/measure_findings.hpp"
#include "cell/chemistry.hpp"
#include "cell/rested_charge.hpp"

namespace bench {
namespace {

namespace units = base::units;

constexpr double empty_V = 3.05;
constexpr double cut_off_slope =
    0.05;  // capacity per volt near the cut-off, [Sunil2025] between 2.5 and 2.8 V
constexpr double not_tapered_share =
    0.02;                             // left out of a charge that did not taper (common practice)
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
  const auto before = !longest->after                   ? cell::Before::unknown
                      : *longest->after == Kind::charge ? cell::Before::charged
                                                        : cell::Before::discharged;
  const auto span = cell::charge_from_rest({.voltage = longest->end_V * units::V,
                                            .half_width = 5.0 * units::mV,
                                            .before = before,
                                            .rest_h = longest->seconds / 3600.0});
  if (!span || span->high - span->low > 0.12) return;  // on the flat part voltage says nothing
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

/// Voltages as they are at the cell: what two leads drop is taken off.
logs::Log at_the_cell(const logs::Log& log, double ohm) {
  logs::Log corrected = log;
  for (std::size_t k = 0; k < log.rows(); ++k) {
    corrected.voltage_V[k] += ohm * log.current_A[k];
    corrected.energy_Ws[k] += ohm * log.current_A[k] * log.charge_As[k];
  }
  return corrected;
}

/// Between which two charges the discharge lies where rows are missing from it; nothing where that
/// is settled.
std::optional<std::array<double, 2>> bounds_by_gaps(const logs::Log& log,
                                                    const std::vector<Run>& runs, std::size_t i) {
  const Run& out = runs[i];
  const Missing missing = missing_in(log, out);
  const double open_Ah = missing.inside_Ah + missing.edge_s * mean_current(out) / 3600.0;
  double lines_Ah = 0.0;  // what straight lines put in already
  for (const logs::Gap& gap : log.gaps)
    if (gap.flowing && !gap.counted && gap.start_s >= out.start_s - 1e-9 &&
        gap.end_s <= out.end_s + 1e-9)
      lines_Ah += gap.doubtful_Ah;
  const double low = out.charge_Ah - lines_Ah, high = low + open_Ah;
  // A cell cannot give more than was put into it from empty: that settles what nothing else does.
  const Run& in = runs[i - 1];
  const double before_V = log.voltage_V[in.first > 0 ? in.first - 1 : in.first];
  const bool from_empty = before_V <= empty_V || (i >= 2 && emptied(runs[i - 2]));
  const bool refuted =
      from_empty && lines_Ah == 0.0 && high > 1.1 * in.charge_Ah && missing.edge_s == 0.0;
  if (open_Ah <= most_doubtful * out.charge_Ah || refuted) return std::nullopt;
  return std::array<double, 2>{low, high};
}

/// What two leads hide of the capacity: those that were stated, or those that the log shows.
void bound_by_leads(const Run& out, const Tester& tester, Measures& m) {
  const double amps = mean_current(out);
  double end_V = out.end_V, u_end_V = tester.lead_halfwidth_mOhm() * 1e-3 * amps / std::sqrt(3.0);
  if (m.leads_mOhm) {
    end_V += m.leads_mOhm->value * 1e-3 * amps;
    u_end_V = std::hypot(u_end_V, m.leads_mOhm->u * 1e-3 * amps);
  } else if (tester.drop_mOhm() <= 0.0) {
    return;
  }
  m.likely_capacity_Ah = capacity_left_open(
      {.charge_Ah = out.charge_Ah, .end_V = end_V, .u_end_V = u_end_V, .current_A = amps});
  if (m.likely_capacity_Ah)
    m.capacity_bounds_Ah = std::array<double, 2>{out.charge_Ah, (*m.likely_capacity_Ah)[1]};
}

void measure_capacity(const logs::Log& log, const std::vector<Run>& runs, std::size_t i,
                      const Tester& tester, const ReferenceConditions& conditions, Measures& m) {
  const Run& out = runs[i];
  const Run& before = runs[i - 1];
  const Capacity c = budget_of(log, out, tester, &before);
  const double u = c.u.in(units::Ah);
  const double amps = mean_current(out);
  m.capacity_budget = c.budget;
  const auto temperature = mean_temperature(log, out.first, out.last);
  if (temperature) m.mean_temperature_C = temperature;
  m.conditions = Conditions{.current_A = amps,
                            .rate_per_h = amps / out.charge_Ah,
                            .end_V = out.end_V,
                            .full_V = before.end_V,
                            .tail_A = std::abs(log.current_A[before.last]),
                            .rest_h = std::max(0.0, out.start_s - before.end_s) / 3600.0};
  if (tester.drop_mOhm() > 0.0) m.lead_drop_mV = tester.drop_mOhm() * amps;
  bound_by_leads(out, tester, m);
  if (m.capacity_bounds_Ah) return;
  m.discharge_capacity_Ah = Measure{out.charge_Ah, u};
  if (!m.leads_mOhm) {
    m.discharge_energy_Wh = energy_measure(out.energy_Wh, out.charge_Ah, u, amps, tester);
    m.mean_discharge_V = out.energy_Wh / out.charge_Ah;
  }
  double without_temperature = 0.0;
  for (const BudgetLine& line : c.budget)
    if (!line.input.starts_with("temperature") && !line.input.starts_with("not at 25"))
      without_temperature += line.contribution_Ah * line.contribution_Ah;
  m.reference =
      to_reference({.capacity_Ah = out.charge_Ah,
                    .u_Ah = std::sqrt(without_temperature),
                    .current_A = amps,
                    .end_V = out.end_V + (m.leads_mOhm ? m.leads_mOhm->value * 1e-3 * amps : 0.0),
                    .temperature_C = temperature,
                    .temperature_halfwidth_K =
                        temperature ? tester.temperature_halfwidth_K : tester.room_halfwidth_K,
                    .resistance_mOhm = m.resistance && m.resistance->on_flat_part
                                           ? std::optional(m.resistance->mOhm.value)
                                           : std::nullopt},
                   conditions);
}

void measure_charge(const logs::Log& log, const std::vector<Run>& runs, const Tester& tester,
                    Measures& m) {
  const auto i = full_charge_run(runs);
  if (!i) return;
  const Run& in = runs[*i];
  const double u = budget_of(log, in, tester).u.in(units::Ah);
  const double amps = mean_current(in);
  m.charge_capacity_Ah = Measure{in.charge_Ah, u};
  if (!m.leads_mOhm) {
    m.charge_energy_Wh = energy_measure(in.energy_Wh, in.charge_Ah, u, amps, tester);
    if (in.charge_Ah > 0.0) m.mean_charge_V = in.energy_Wh / in.charge_Ah;
  }
  if (!in.tapered) return;
  const double share = in.charge_Ah > 0.0 ? in.tail_Ah / in.charge_Ah : 0.0;
  // Gain in proportion; the offset for as long as the tail lasts, at most the whole charge.
  const double offset = tester.offset_A / std::sqrt(3.0) * in.flowing_s / 3600.0;
  m.tail_charge_Ah =
      Measure{in.tail_Ah, std::hypot(u * share, offset * std::min(1.0, 3.0 * share))};
}

/// Resistances of the cell; where two leads that nobody told of lie in between, none.
void measure_resistance(const logs::Log& log, const std::vector<Run>& runs, const Tester& tester,
                        Measures& m) {
  double moved_Ah = 0.0;
  for (const Run& r : runs) moved_Ah = std::max(moved_Ah, r.charge_Ah);
  const bool whole = capacity_run(runs).has_value() || full_charge_run(runs).has_value();
  if (whole) m.leads_mOhm = leads_seen(log, moved_Ah);
  if (m.leads_mOhm) return;
  m.resistance = dc_resistance(log, tester, 10.0, 120.0);
  m.resistance_1s = dc_resistance(log, tester, 1.0, 2.5);
  m.resistance_30s = dc_resistance(log, tester, 30.0, 60.0);
}

/// The runs as the tester ended them, by its own voltage; energies and voltages are the cell's.
std::vector<Run> runs_of(const logs::Log& at_tester, const std::vector<Phase>& phases, double ohm) {
  if (ohm <= 0.0) return find_runs(phases);
  std::vector<Run> runs = find_runs(find_phases(at_tester));
  for (Run& run : runs) {
    const auto at_cell = [&](std::size_t row) {
      return at_tester.voltage_V[row] + ohm * at_tester.current_A[row];
    };
    run.start_V = at_cell(run.first);
    run.end_V = at_cell(run.last);
    run.energy_Wh = 0.0;
    for (std::size_t k = run.first; k <= run.last; ++k) {
      const bool flows = (at_tester.charge_As[k] > 0.0) == (run.kind == Kind::discharge);
      if (flows) run.energy_Wh += std::abs(at_tester.charge_As[k]) / 3600.0 * at_cell(k);
    }
  }
  return runs;
}

}  // namespace

bool tapered_at_end(const logs::Log& log, const Run& charge) {
  return charge.tapered || std::abs(log.current_A[charge.last]) < 0.5 * mean_current(charge);
}

Report measure(const logs::Log& at_tester, const Tester& tester,
               const ReferenceConditions& conditions) {
  const double ohm = tester.drop_mOhm() * 1e-3;
  std::optional<logs::Log> corrected;
  if (ohm > 0.0) corrected = at_the_cell(at_tester, ohm);
  const logs::Log& log = corrected ? *corrected : at_tester;
  Report report;
  report.phases = find_phases(log);
  report.runs = runs_of(at_tester, report.phases, ohm);
  const std::vector<Run>& runs = report.runs;
  Measures& m = report.measures;
  m.totals = totals(log);
  m.mean_temperature_C = mean_temperature(log, 0, log.rows() - 1);
  measure_resistance(log, runs, tester, m);
  if (const auto i = capacity_run(runs)) {
    m.capacity_bounds_Ah = bounds_by_gaps(log, runs, *i);
    if (!m.capacity_bounds_Ah) measure_capacity(log, runs, *i, tester, conditions, m);
  }
  measure_charge(log, runs, tester, m);
  measure_efficiency(log, runs, tester, m);
  report.rests = find_rests(report.phases, m.discharge_capacity_Ah
                                               ? std::optional(m.discharge_capacity_Ah->value)
                                               : std::nullopt);
  measure_self_discharge(log, report.rests, m);
  find_peaks(log, runs, m);
  report.findings = log.findings;
  const std::vector<findings::Finding> ours = findings_of(log, report, tester, conditions);
  report.findings.insert(report.findings.end(), ours.begin(), ours.end());
  findings::sort_by_severity(report.findings);
  return report;
}

}  // namespace bench
