// SPDX-License-Identifier: Apache-2.0
#include "bench/measure_findings.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace bench {
namespace {

using findings::Finding;
using findings::Severity;

constexpr double early_V = 0.15;               // above the sheet's limit: stopped early
constexpr double most_doubtful_share = 0.025;  // of a capacity; more, and it is only bounded

/// About the tester and how it reads.
void say_tester(const Tester& tester, const Measures& m, std::vector<Finding>& findings) {
  if (!tester.stated)
    findings.push_back(accuracy_assumed(
        tester, "Give the tester's accuracy with --tester FILE, or [tester] in the project."));
  if (m.resistance && !m.resistance->on_flat_part)
    findings.push_back({.id = findings::Id::resistance_near_an_end,
                        .severity = Severity::note,
                        .what =
                            "The log steps its current only near full or empty, where the "
                            "rested voltage itself moves: the resistance may be off either way.",
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
}

/// Two wires that nobody told of, or that hide how empty the cell was.
void say_leads(const Measures& m, std::vector<Finding>& findings) {
  if (m.leads_mOhm)
    findings.push_back(
        {.id = findings::Id::two_wire,
         .severity = Severity::caution,
         .what =
             fmt::format("The voltage steps with the current as over two wires of about {:.2g} "
                         "mΩ: no cell of this capacity has so much.{}",
                         m.leads_mOhm->value,
                         m.likely_capacity_Ah
                             ? fmt::format(" Capacity at least {:.1f} Ah, likely {:.0f} to "
                                           "{:.0f} Ah.",
                                           (*m.capacity_bounds_Ah)[0], (*m.likely_capacity_Ah)[0],
                                           (*m.likely_capacity_Ah)[1])
                             : std::string()),
         .where = "tester",
         .measured = fmt::format("{:.1f} ± {:.1f} mΩ", m.leads_mOhm->value, m.leads_mOhm->u),
         .why =
             "The tester stops at its own voltage, not at the cell's: the capacity reads too low, "
             "and no claim can stand on it.",
         .remedy = "Sense the voltage on the cell's terminals with two more wires, clean the clips "
                   "and test again; or say how long and thick the leads are under [tester].",
         .basis = "Ohm's law"});
  else if (m.likely_capacity_Ah)
    findings.push_back(
        {.id = findings::Id::leads_hide_the_end,
         .severity = Severity::caution,
         .what = fmt::format("The leads' drop ended the discharge early: capacity at least {:.1f} "
                             "Ah, likely {:.0f} to {:.0f} Ah.",
                             (*m.capacity_bounds_Ah)[0], (*m.likely_capacity_Ah)[0],
                             (*m.likely_capacity_Ah)[1]),
         .where = "tester",
         .why = "The cell itself was not yet at its cut-off; no verdict can stand on it.",
         .remedy = "Sense the voltage on the cell's terminals with two more wires and test again.",
         .basis = "Ohm's law; [Plett2015] [Sunil2025] open-circuit curves"});
}

/// Nothing flowed: that is an answer, and what a test of self-discharge looks like.
void say_rest_only(const logs::Log& log, const Measures& m, std::vector<Finding>& findings) {
  if (m.totals.charged_Ah + m.totals.discharged_Ah > 0.0) return;
  const double hours = (log.time_s.back() - log.time_s.front()) / 3600.0;
  findings.push_back(
      {.id = findings::Id::nothing_flowed,
       .severity = Severity::note,
       .what = fmt::format("Nothing flowed for {:.1f} h: a rest, from {:.4f} V to {:.4f} V.", hours,
                           log.voltage_V.front(), log.voltage_V.back()),
       .where = "log",
       .why = "A rest says how a cell leaks, off the flat part of its curve and over weeks.",
       .remedy = "For self-discharge rest it full or nearly empty for two weeks or more, and note "
                 "the temperature.",
       .basis = "common practice, no source"});
}

/// About the charge and the discharge that gave the capacity.
void say_runs(const logs::Log& log, const std::vector<Run>& runs,
              const ReferenceConditions& reference, const Measures& m,
              std::vector<Finding>& findings) {
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
}

/// About what the log cannot give.
void say_missing(const std::vector<Run>& runs, const Measures& m, std::vector<Finding>& findings) {
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
  if (m.capacity_bounds_Ah && !m.likely_capacity_Ah) {
    findings.push_back(
        {.id = findings::Id::capacity_bounded,
         .severity = Severity::caution,
         .what = "Rows are missing from the discharge, and nothing says what flowed meanwhile: the "
                 "capacity lies between two bounds.",
         .where = "log",
         .measured =
             fmt::format("{:.2f} Ah without what is missing, {:.2f} Ah with a straight line",
                         (*m.capacity_bounds_Ah)[0], (*m.capacity_bounds_Ah)[1]),
         .limit = fmt::format("{:g} % of the capacity", 100.0 * most_doubtful_share),
         .why = "No verdict can stand on it.",
         .remedy = "Test again; or give the tester's own Ah column, where there is one.",
         .basis = "common practice, no source"});
  }
  if (!m.discharge_capacity_Ah && !m.capacity_bounds_Ah) {
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

std::vector<findings::Finding> findings_of(const logs::Log& log, const Report& report,
                                           const Tester& tester,
                                           const ReferenceConditions& reference) {
  std::vector<findings::Finding> findings;
  const Measures& m = report.measures;
  say_tester(tester, m, findings);
  say_leads(m, findings);
  say_rest_only(log, m, findings);
  say_runs(log, report.runs, reference, m, findings);
  say_missing(report.runs, m, findings);
  return findings;
}

}  // namespace bench
