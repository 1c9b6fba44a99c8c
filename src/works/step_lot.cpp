// SPDX-License-Identifier: Apache-2.0
// Receive and Test: readings at the bench, then what every cell really holds.
#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "base/statistics.hpp"
#include "logs/read_log.hpp"
#include "watch/verdict.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

using base::Figure;
using findings::Finding;
using findings::Severity;

constexpr std::size_t curve_points = 120;
/// A cell that arrived below this is kept apart and has no place; common practice, no source.
constexpr double never_placed_V = 2.0;

std::string joined(const std::vector<std::string>& labels) {
  std::string text;
  for (const std::string& l : labels) text += (text.empty() ? "" : ", ") + l;
  return text;
}

/// Cells whose reading stands out from the lot, by the modified z-score.
void find_outliers(const Project& project, std::optional<double> Cell::*reading, findings::Id id,
                   std::string_view what, std::string_view unit, base::Side side, Plan& plan) {
  std::vector<double> values;
  std::vector<std::string> labels, out;
  for (const Cell& c : project.cells)
    if (c.*reading) values.push_back(*(c.*reading)), labels.push_back(c.label);
  if (values.size() < 8) return;
  const base::OutlierTest test = base::modified_z(values, side);
  std::string measured;
  for (const std::size_t i : test.outliers) {
    out.push_back(labels[i]);
    measured += fmt::format("{}{:g} {}", measured.empty() ? "" : ", ", values[i], unit);
  }
  if (out.empty()) return;
  plan.findings.push_back(
      {.id = id,
       .severity = Severity::caution,
       .what = fmt::format("{} cell{} out from the lot in {}.", out.size(),
                           out.size() == 1 ? " stands" : "s stand", what),
       .where = joined(out),
       .measured = measured,
       .limit = fmt::format("lot's median {:g} {}", base::median(values), unit),
       .why = "A cell unlike its lot may be damaged, older, or measured wrongly.",
       .remedy = "Measure again on clean terminals; if it stays, set the cell aside and tell the "
                 "seller in time.",
       .basis = "[NIST-EDA] 1.3.5.17, modified z-score above 3.5"});
}

/// The discharge that gave the capacity, thinned for drawing.
std::vector<CurvePoint> curve_of(const logs::Log& log, const bench::Report& report) {
  const bench::Phase* best = nullptr;
  for (const bench::Phase& p : report.phases)
    if (p.kind == bench::Kind::discharge && (best == nullptr || p.charge_Ah > best->charge_Ah))
      best = &p;
  if (best == nullptr) return {};
  std::vector<CurvePoint> curve;
  const std::size_t rows = best->last - best->first + 1;
  double charge_Ah = 0.0, drawn_Ah = -1e9, drawn_V = 1e9;
  for (std::size_t i = best->first; i <= best->last; ++i) {
    if (i > best->first)
      charge_Ah += 0.5 * (log.current_A[i] + log.current_A[i - 1]) *
                   (log.time_s[i] - log.time_s[i - 1]) / 3600.0;
    const bool moved = charge_Ah - drawn_Ah >= best->charge_Ah / double(curve_points) ||
                       std::abs(log.voltage_V[i] - drawn_V) > 0.02;
    if (rows <= curve_points || moved || i == best->last)
      curve.push_back({charge_Ah, log.voltage_V[i]}), drawn_Ah = charge_Ah,
                                                      drawn_V = log.voltage_V[i];
  }
  return curve;
}

Figure measured(const bench::Measure& m, std::string unit, std::string basis) {
  return {.value = m.value, .u = m.u, .unit = std::move(unit), .basis = std::move(basis)};
}

void take_measures(const logs::Log& log, const bench::Report& report, CellResult& cell) {
  const bench::Measures& m = report.measures;
  const std::string from =
      "integral of the log " + cell.log + "; uncertainty budget as in capacity-uncertainty";
  cell.standing = Standing::tested;
  if (m.discharge_capacity_Ah) cell.capacity_Ah = measured(*m.discharge_capacity_Ah, "Ah", from);
  if (m.discharge_energy_Wh) cell.energy_Wh = measured(*m.discharge_energy_Wh, "Wh", from);
  if (m.resistance)
    cell.resistance_mOhm =
        measured(m.resistance->mOhm, "mΩ", "steps of the current in the log " + cell.log);
  if (m.coulombic_efficiency)
    cell.coulombic_efficiency = measured(*m.coulombic_efficiency, "", from);
  if (m.energy_efficiency) cell.energy_efficiency = measured(*m.energy_efficiency, "", from);
  if (m.mean_temperature_C)
    cell.temperature_C =
        Figure{.value = *m.mean_temperature_C, .unit = "°C", .basis = "mean over the discharge"};
  if (m.resistance) cell.resistance_time_s = m.resistance->time_s;
  if (m.reference)
    cell.reference_capacity_Ah = measured(
        m.reference->capacity_Ah, "Ah",
        fmt::format("the same at reference conditions: {:+.2f} Ah for where it stopped, {:+.2f} Ah "
                    "for the temperature",
                    m.reference->from_end_Ah, m.reference->from_temperature_Ah));
  if (m.tail_charge_Ah && cell.capacity_Ah && cell.capacity_Ah->value > 0.0)
    cell.tail_share = m.tail_charge_Ah->value / cell.capacity_Ah->value;
  cell.conditions = m.conditions;
  cell.budget = m.capacity_budget;
  for (const logs::LeftOut& l : log.left_out)
    cell.left_out += fmt::format("{}{} × {}", cell.left_out.empty() ? "" : "; ", l.count, l.reason);
  cell.curve = curve_of(log, report);
}

/// Corrects the capacity of a cell whose channel was compared with the others.
void correct_channel(const bench::Calibration& calibration, CellResult& cell) {
  if (!cell.capacity_Ah || cell.channel.empty()) return;
  const double hours = cell.conditions ? cell.capacity_Ah->value / cell.conditions->current_A : 0.0;
  const double corrected = calibration.corrected_Ah(cell.channel, cell.capacity_Ah->value, hours);
  cell.capacity_before_Ah = cell.capacity_Ah;
  cell.capacity_Ah->u =
      std::hypot(cell.capacity_Ah->u.value_or(0.0), calibration.u_share(cell.channel) * corrected);
  cell.capacity_Ah->basis += fmt::format("; channel {} corrected by {:+.2f} %", cell.channel,
                                         100.0 * (corrected / cell.capacity_Ah->value - 1.0));
  if (cell.reference_capacity_Ah)
    cell.reference_capacity_Ah->value *= corrected / cell.capacity_Ah->value;
  cell.capacity_Ah->value = corrected;
}

/// Channels and the reference cell's runs, from channels.csv.
bench::ChannelList channels_of(const Project& project, Plan& plan) {
  for (const File& f : project.series) {
    if (f.name != "channels.csv") continue;
    bench::ChannelList list = bench::read_channels(f.bytes);
    plan.calibration = bench::calibrate(list.reference, project.tester.trusted_channel());
    return list;
  }
  return {};
}

/// The circuit fitted to a log that shows all of it. Rows more than five seconds apart do not, and
/// need not be tried.
std::optional<bench::FittedCell> model_shown_by(const logs::Log& log, const bench::Report& report) {
  const auto rows = static_cast<double>(log.rows());
  if (rows < 2.0 || log.time_s.back() - log.time_s.front() > 5.0 * rows) return std::nullopt;
  auto fitted = bench::fit_alone(log, report);
  auto* cell = std::get_if<bench::FittedCell>(&fitted);
  if (cell == nullptr || cell->time_constants_assumed || !cell->both_ways) return std::nullopt;
  const auto& s = cell->curve.state_of_charge;
  const bench::Measure& r0 = cell->r0_mOhm;
  if (s.front() > 0.08 || s.back() < 0.92 || !(r0.value > 0.0) || r0.u > 0.1 * r0.value)
    return std::nullopt;
  return std::move(*cell);
}

/// A log as the project says that it is to be read. A column that it does not have is passed over:
/// the lot's logs may come from several testers.
logs::ReadResult read_as_told(std::string_view bytes, logs::ReadOptions options) {
  if (options.columns.empty()) return logs::read_log(bytes, options);
  try {
    return logs::read_log(bytes, options);
  } catch (const base::InputError&) {
    options.columns.clear();
    return logs::read_log(bytes, options);
  }
}

void read_cell_log(const File& file, const logs::ReadOptions& options, const bench::Tester& tester,
                   const bench::ReferenceConditions& conditions, CellResult& cell,
                   std::vector<Finding>& findings) {
  const auto refuse = [&](findings::Id id, std::string what, std::string remedy) {
    cell.standing = Standing::unreadable;
    findings.push_back({.id = id,
                        .severity = Severity::stop,
                        .what = std::move(what),
                        .where = cell.label,
                        .why = "A cell without a measure cannot be judged or placed.",
                        .remedy = std::move(remedy)});
  };
  try {
    logs::ReadResult result = read_as_told(file.bytes, options);
    if (const auto* question = std::get_if<logs::Question>(&result)) {
      std::string readings;
      for (const std::string& r : question->readings)
        readings += (readings.empty() ? "" : "; or ") + r;
      return refuse(findings::Id::log_has_two_readings,
                    fmt::format("The log {} can be read in more than one way ({}): {}.", file.name,
                                question->about, readings),
                    "Say which it is under [logs]: sign, dates, decimal or columns; it holds for "
                    "all logs.");
    }
    const logs::Log& log = std::get<logs::Log>(result);
    const bench::Report report = bench::measure(log, tester, conditions);
    take_measures(log, report, cell);
    cell.model = model_shown_by(log, report);
    for (const Finding& f : report.findings) {
      if (f.id == findings::Id::tester_accuracy_assumed || f.severity == Severity::note)
        continue;  // said once for the lot; notes stay with the bench
      Finding copy = f;
      copy.where = cell.label + ", " + f.where;
      findings.push_back(std::move(copy));
    }
  } catch (const base::InputError& error) {
    refuse(findings::Id::log_unreadable,
           fmt::format("The log {} cannot be read: {}.", file.name, error.found()), error.remedy());
  }
}

std::string stem(std::string_view name) { return std::string(name.substr(0, name.rfind('.'))); }

void judge_lot(const Project& project, Plan& plan) {
  const double limit =
      project.cell.rated_capacity.in(base::units::Ah)*project.test.limit_percent() / 100.0;
  const double risk = project.test.risk_percent() / 100.0;
  std::vector<std::string> rejected, undecided;
  for (CellResult& c : plan.cells) {
    if (!c.capacity_Ah) continue;
    // At the conditions that the rating holds for, where the log allows to go there.
    const base::Figure& judged =
        c.reference_capacity_Ah ? *c.reference_capacity_Ah : *c.capacity_Ah;
    c.judgement =
        bench::judge(judged.value, judged.u.value_or(0.0), limit, bench::LimitSide::lower, risk);
    if (c.judgement->verdict == bench::Verdict::reject) rejected.push_back(c.label);
    if (c.judgement->verdict == bench::Verdict::undecided) undecided.push_back(c.label);
  }
  const auto found = [&](findings::Id id, Severity severity, const std::vector<std::string>& labels,
                         std::string what, std::string remedy) {
    if (labels.empty()) return;
    double low = 1e12, high = 0.0;
    for (const CellResult& c : plan.cells)
      if (std::find(labels.begin(), labels.end(), c.label) != labels.end())
        low = std::min(low, c.capacity_Ah->value), high = std::max(high, c.capacity_Ah->value);
    plan.findings.push_back(
        {.id = id,
         .severity = severity,
         .what = fmt::format("{} cell{} {}", labels.size(), labels.size() == 1 ? "" : "s", what),
         .where = joined(labels),
         .measured = low == high ? fmt::format("{:.1f} Ah", low)
                                 : fmt::format("{:.1f} to {:.1f} Ah", low, high),
         .limit = fmt::format("{:g} Ah", limit),
         .why = "The smallest group decides what a pack holds.",
         .remedy = std::move(remedy),
         .basis = fmt::format("[JCGM106] guard band, risk {:g} %", risk * 100.0)});
  };
  found(
      findings::Id::capacity_short, Severity::caution, rejected,
      rejected.size() == 1 ? "falls short of the limit." : "fall short of the limit.",
      "Claim within the seller's time, with the log; use such a cell only as a spare, if at all.");
  found(findings::Id::capacity_undecided, Severity::note, undecided,
        "cannot be judged: the limit lies within the uncertainty.",
        "Test again, several times or on a better meter; until then it is neither good nor bad.");
}

void set_aside_resistance_outliers(Plan& plan) {
  std::vector<double> values;
  std::vector<CellResult*> owners;
  for (CellResult& c : plan.cells)
    if (c.resistance_mOhm) values.push_back(c.resistance_mOhm->value), owners.push_back(&c);
  if (values.size() < 8) return;
  const base::OutlierTest test = base::modified_z(values, base::Side::max);
  for (const std::size_t i : test.outliers) {
    if (values[i] < 1.15 * base::median(values))
      continue;  // a tight lot flags what does not matter
    owners[i]->place = "set aside";
    owners[i]->reason = "resistance";
    plan.findings.push_back(
        {.id = findings::Id::high_resistance,
         .severity = Severity::caution,
         .what = fmt::format("{} has {:.0f} % more resistance than the lot's median.",
                             owners[i]->label, (values[i] / base::median(values) - 1.0) * 100.0),
         .where = owners[i]->label,
         .measured = fmt::format("{:.3f} mΩ", values[i]),
         .limit = fmt::format("median {:.3f} mΩ", base::median(values)),
         .why = "It warms more, sags first and trips first; but a bad contact at the bench looks "
                "the same.",
         .remedy = "Clean the terminals and measure again with four wires. If it stays, keep the "
                   "cell out of the bank.",
         .basis = "[NIST-EDA] 1.3.5.17, modified z-score above 3.5"});
  }
}

/// Standard uncertainty of a standard deviation from n values. [JCGM100] E.4.3
double spread_u(const std::vector<double>& values) {
  return base::standard_deviation(values) / std::sqrt(2.0 * (double(values.size()) - 1.0));
}

void summarise(const Project& project, Plan& plan) {
  std::size_t tested = 0, accepted = 0, undecided = 0, rejected = 0, aside = 0;
  std::vector<double> capacity, resistance;
  double u = 0.0;
  for (const CellResult& c : plan.cells) {
    tested += c.capacity_Ah.has_value();
    if (c.capacity_Ah)
      capacity.push_back(c.capacity_Ah->value), u += c.capacity_Ah->u.value_or(0.0);
    if (c.resistance_mOhm && c.place != "set aside") resistance.push_back(c.resistance_mOhm->value);
    if (!c.judgement) continue;
    if (c.place == "set aside") {
      ++aside;
      continue;
    }
    accepted += c.judgement->verdict == bench::Verdict::accept;
    undecided += c.judgement->verdict == bench::Verdict::undecided;
    rejected += c.judgement->verdict == bench::Verdict::reject;
  }
  plan.test = {.name = "test",
               .question = "What does each cell really hold?",
               .sentence = "",
               .figures = {}};
  if (tested == 0) {
    plan.test.sentence = project.cells.empty() ? "No cells yet: import the lot and its logs."
                                               : "No cell has been tested yet.";
    return;
  }
  plan.test.sentence =
      fmt::format("{} of {} cells tested: {} conform{}, {} {} undecided, {} fall{} short.", tested,
                  plan.cells.size(), accepted, accepted == 1 ? "s" : "", undecided,
                  undecided == 1 ? "is" : "are", rejected, rejected == 1 ? "s" : "");
  if (aside > 0) {
    const bool for_resistance = std::none_of(
        plan.cells.begin(), plan.cells.end(),
        [](const CellResult& c) { return c.place == "set aside" && c.reason != "resistance"; });
    plan.test.sentence.pop_back();
    plan.test.sentence += fmt::format(", {} {} set aside{}.", aside, aside == 1 ? "is" : "are",
                                      for_resistance ? " for resistance" : "");
  }
  const std::string basis = fmt::format("of {} tested cells", capacity.size());
  const auto add = [&](std::string key, std::string label, double value,
                       std::optional<double> uncertainty, std::string unit) {
    plan.test.figures.push_back(
        {std::move(key),
         std::move(label),
         {.value = value, .u = uncertainty, .unit = std::move(unit), .basis = basis}});
  };
  const double n = double(capacity.size());
  add("median_capacity_Ah", "median capacity", base::median(capacity), u / n, "Ah");
  add("capacity_sd_Ah", "standard deviation of capacity", base::standard_deviation(capacity),
      spread_u(capacity), "Ah");
  add("smallest_capacity_Ah", "smallest capacity",
      *std::min_element(capacity.begin(), capacity.end()), u / n, "Ah");
  if (!resistance.empty()) {
    add("median_resistance_mOhm", "median DC resistance", base::median(resistance),
        base::standard_deviation(resistance) / std::sqrt(double(resistance.size())), "mΩ");
    add("resistance_sd_mOhm", "standard deviation of resistance",
        base::standard_deviation(resistance), spread_u(resistance), "mΩ");
  }
  const bench::Tester used = tester(project);
  if (!used.stated)
    plan.findings.push_back(
        bench::accuracy_assumed(used, "Put the tester's accuracy under [tester]."));
}

}  // namespace

namespace {
/// Until when the seller must hear of it, as a figure and a finding where the day is no day.
void write_claim_day(const Project& project, Plan& plan) {
  const std::string received = project.order.received();
  const auto days = project.order.claim_days();
  if (received.empty() || !days) return;
  const auto day = base::day_of(received);
  if (!day) {
    plan.findings.push_back({.id = findings::Id::no_day,
                             .severity = Severity::caution,
                             .what = fmt::format("“{}” is no day.", received),
                             .where = "[order] received",
                             .measured = "",
                             .limit = "such as 2026-11-01",
                             .why = "Until when a claim is open cannot be said.",
                             .remedy = "Write year, month and day.",
                             .basis = "docs/howto/project.md"});
    return;
  }
  std::size_t open = 0;
  for (const CellResult& c : plan.cells) open += c.standing == Standing::untested;
  plan.findings.push_back(
      {.id = findings::Id::claim_ends,
       .severity = open > 0 ? Severity::caution : Severity::note,
       .what = fmt::format("The seller must hear of what is wrong by {}.",
                           base::day_text(*day + long(*days))),
       .where = "[order]",
       .measured = open > 0 ? fmt::format("{} cells untested", open) : "every cell tested",
       .limit = fmt::format("{:g} days from {}", *days, received),
       .why = "What is found later is the buyer's own.",
       .remedy = open > 0 ? "Test the rest before that day, worst first: packhouse queue."
                          : "Send the sheets: packhouse claim.",
       .basis = "the terms as given"});
}
}  // namespace

void receive(const Project& project, Plan& plan) {
  Step& step = plan.receive;
  step = {.name = "receive", .question = "Did they arrive sound?", .sentence = "", .figures = {}};
  std::vector<double> voltages;
  std::vector<std::string> quarantine, suspect;
  for (const Cell& c : project.cells) {
    if (!c.voltage_V) continue;
    voltages.push_back(*c.voltage_V);
    if (*c.voltage_V < never_placed_V)
      quarantine.push_back(c.label);
    else if (*c.voltage_V < 2.5)
      suspect.push_back(c.label);
  }
  const auto low = [&](findings::Id id, Severity severity, const std::vector<std::string>& labels,
                       std::string limit, std::string remedy) {
    if (labels.empty()) return;
    plan.findings.push_back(
        {.id = id,
         .severity = severity,
         .what = fmt::format("{} cell{} arrived nearly empty.", labels.size(),
                             labels.size() == 1 ? "" : "s"),
         .where = joined(labels),
         .limit = std::move(limit),
         .why = "Below about two volts copper dissolves inside; such a cell can short later.",
         .remedy = std::move(remedy),
         .basis = "common practice, no source"});
  };
  low(findings::Id::arrived_below_2_volts, Severity::stop, quarantine, "2.0 V",
      "Keep it apart, outdoors or in a metal box, do not charge it, and claim it.");
  low(findings::Id::arrived_low, Severity::caution, suspect, "2.5 V",
      "Charge it slowly and watched, and test it first, while a claim is still open.");
  find_outliers(project, &Cell::ac_resistance_mOhm, findings::Id::ac_resistance_stands_out,
                "1 kHz resistance", "mΩ", base::Side::max, plan);
  find_outliers(project, &Cell::mass_kg, findings::Id::mass_stands_out, "mass", "kg",
                base::Side::two, plan);
  find_outliers(project, &Cell::thickness_mm, findings::Id::thickness_stands_out, "thickness", "mm",
                base::Side::max, plan);
  write_claim_day(project, plan);
  if (voltages.empty()) {
    step.sentence =
        project.cells.empty()
            ? "No cells yet."
            : fmt::format("{} cells; no arrival voltages were written down.", project.cells.size());
    return;
  }
  const auto balance =
      watch::judge_balance({voltages, 24.0 * base::units::h, 5.0 * base::units::mV});
  step.sentence = fmt::format("{} cells arrived, {} of them read. {}", project.cells.size(),
                              voltages.size(), balance.sentence);
  const std::string basis = fmt::format("of {} readings at arrival, rested", voltages.size());
  step.figures.push_back({"median_voltage_V",
                          "median arrival voltage",
                          {.value = base::median(voltages), .unit = "V", .basis = basis}});
  step.figures.push_back({"lowest_voltage_V",
                          "lowest arrival voltage",
                          {.value = *std::min_element(voltages.begin(), voltages.end()),
                           .unit = "V",
                           .basis = basis}});
  step.figures.push_back(
      {"lowest_charge",
       "least charge that the readings allow",
       {.value = balance.lowest_charge,
        .unit = "",
        .reckoning = "charge-from-rest",
        .inputs = {{"voltage_V", *std::min_element(voltages.begin(), voltages.end())},
                   {"half_width_mV", 5.0}}}});
  step.figures.push_back(
      {"highest_charge",
       "most charge that they allow",
       {.value = balance.highest_charge,
        .unit = "",
        .reckoning = "charge-from-rest",
        .inputs = {{"voltage_V", *std::max_element(voltages.begin(), voltages.end())},
                   {"half_width_mV", 5.0}}}});
}

void test_cells(const Project& project, Plan& plan, Recall& recall) {
  std::map<std::string, const File*> log_of;
  for (const File& f : project.logs) log_of.emplace(stem(f.name), &f);
  const bench::Tester tester_used = tester(project);
  const bench::ReferenceConditions conditions = reference_conditions(project);
  const bench::ChannelList channels = channels_of(project, plan);
  const logs::ReadOptions options = read_options(project);
  const std::string settings = said_in(project, {"tester", "test", "logs", "cell"});
  std::map<std::string, Recall::ReadLog> read_now;
  const auto read_or_recall = [&](const File& file, CellResult& cell) {
    const std::uint64_t hash = std::hash<std::string_view>{}(file.bytes);
    auto known = recall.logs.find(file.name);
    if (known == recall.logs.end() || known->second.bytes != file.bytes.size() ||
        known->second.hash != hash || known->second.settings != settings ||
        known->second.cell.label != cell.label) {
      Recall::ReadLog read{file.bytes.size(), hash, settings, cell, {}};
      read_cell_log(file, options, tester_used, conditions, read.cell, read.findings);
      known = recall.logs.insert_or_assign(file.name, std::move(read)).first;
    }
    CellResult told = std::move(cell);  // lot, date and leak are as they are said now
    cell = known->second.cell;
    cell.lot = told.lot, cell.made = told.made, cell.leak_mA = told.leak_mA;
    plan.findings.insert(plan.findings.end(), known->second.findings.begin(),
                         known->second.findings.end());
    read_now.insert_or_assign(file.name, known->second);
  };
  std::vector<std::string> used;
  for (const Cell& c : project.cells) {
    CellResult result;
    result.label = c.label;
    result.lot = c.lot;
    result.made = c.made;
    result.leak_mA = c.leak_mA;
    if (const auto found = log_of.find(c.label); found != log_of.end()) {
      result.log = found->second->name;
      used.push_back(c.label);
      read_or_recall(*found->second, result);
      if (result.standing == Standing::tested && !result.capacity_Ah)
        plan.findings.push_back({.id = findings::Id::log_without_capacity,
                                 .severity = Severity::caution,
                                 .what = fmt::format("The log of {} gives no capacity.", c.label),
                                 .where = c.label,
                                 .why = "Capacity is what a cell holds between full and empty.",
                                 .remedy = "Charge until the current tapers, rest, then discharge "
                                           "to the cut-off, all in one log.",
                                 .basis = "[IEC62620] 6.3"});
    } else if (c.capacity_Ah) {
      result.standing = Standing::tested;
      result.capacity_Ah = Figure{
          .value = *c.capacity_Ah, .u = c.u_Ah, .unit = "Ah", .basis = "as given in cells.csv"};
      if (c.resistance_mOhm)
        result.resistance_mOhm =
            Figure{.value = *c.resistance_mOhm, .unit = "mΩ", .basis = "as given in cells.csv"};
    }
    if (const auto channel = channels.channel_of.find(c.label);
        channel != channels.channel_of.end()) {
      result.channel = channel->second;
      if (plan.calibration) correct_channel(*plan.calibration, result);
    }
    if (c.voltage_V && *c.voltage_V < never_placed_V)
      result.place = "set aside", result.reason = "voltage at arrival";
    plan.cells.push_back(std::move(result));
  }
  recall.logs = std::move(read_now);  // what is gone is forgotten
  std::vector<std::string> orphans;
  for (const auto& [label, file] : log_of)
    if (std::find(used.begin(), used.end(), label) == used.end()) orphans.push_back(file->name);
  if (!orphans.empty())
    plan.findings.push_back({.id = findings::Id::log_without_cell,
                             .severity = Severity::caution,
                             .what = fmt::format("{} log{} no cell of this name.", orphans.size(),
                                                 orphans.size() == 1 ? " has" : "s have"),
                             .where = joined(orphans),
                             .why = "It counts for nothing.",
                             .remedy = "Name the log as the cell is labelled (B-07.csv for cell "
                                       "B-07), or add the cell to cells.csv."});
  judge_lot(project, plan);
  set_aside_resistance_outliers(plan);
  summarise(project, plan);
}

}  // namespace works::steps
