// SPDX-License-Identifier: Apache-2.0
// Test: the lot as a whole, quantity by quantity; and the queue of what is still to be tested.
#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include "base/number.hpp"
#include "base/statistics.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

using findings::Finding;
using findings::Severity;

struct Quantity {
  std::string_view key, label, unit;
  std::optional<double> (*limit)(
      const project::Project&);  ///< null: none, or judged with the cells
  bench::LimitSide side;
  double meter_share;  ///< half-width of the meter where no uncertainty was given, as share
  findings::Id out = findings::Id::capacity_short, undecided = findings::Id::capacity_undecided;
};
namespace units = base::units;
constexpr Quantity quantities[] = {
    {"capacity_Ah", "capacity (reference)", "Ah", nullptr, bench::LimitSide::lower, 0.0},
    {"dc_resistance_mOhm", "DC resistance", "mΩ",
     [](const Project& p) { return p.test.max_dc_resistance.in(units::mOhm); },
     bench::LimitSide::upper, 0.0, findings::Id::dc_resistance_out_of_limit,
     findings::Id::dc_resistance_undecided},
    {"ac_resistance_mOhm", "1 kHz resistance", "mΩ",
     [](const Project& p) { return p.test.max_ac_resistance.in(units::mOhm); },
     bench::LimitSide::upper, 0.0, findings::Id::ac_resistance_out_of_limit,
     findings::Id::ac_resistance_undecided},
    {"leak_mA", "self-discharge", "mA",
     [](const Project& p) { return p.test.max_leak.in(units::mA); }, bench::LimitSide::upper, 0.1,
     findings::Id::leak_out_of_limit, findings::Id::leak_undecided},
    {"arrival_V", "arrival voltage", "V",
     [](const Project& p) { return p.test.min_arrival.in(units::V); }, bench::LimitSide::lower,
     0.002, findings::Id::arrival_out_of_limit, findings::Id::arrival_undecided},
    {"mass_kg", "mass", "kg", [](const Project& p) { return p.test.min_mass.in(units::kg); },
     bench::LimitSide::lower, 0.001, findings::Id::mass_out_of_limit, findings::Id::mass_undecided},
    {"thickness_mm", "thickness", "mm",
     [](const Project& p) { return p.test.max_thickness.in(units::mm); }, bench::LimitSide::upper,
     0.002, findings::Id::thickness_out_of_limit, findings::Id::thickness_undecided},
};

bench::LotQuantity gather(const Project& project, const Plan& plan, const Quantity& q) {
  bench::LotQuantity result{std::string(q.key), std::string(q.label), std::string(q.unit), {}, {}};
  const auto add = [&](const std::string& label, double value, double u) {
    result.labels.push_back(label);
    result.values.push_back({value, u});
  };
  if (q.key == "capacity_Ah" || q.key == "dc_resistance_mOhm") {
    for (const CellResult& c : plan.cells) {
      // Capacities are compared at reference conditions, where the logs allow it.
      const auto& figure = q.key != "capacity_Ah"    ? c.resistance_mOhm
                           : c.reference_capacity_Ah ? c.reference_capacity_Ah
                                                     : c.capacity_Ah;
      if (figure) add(c.label, figure->value, figure->u.value_or(0.0));
    }
    return result;
  }
  for (const Cell& c : project.cells) {
    const std::optional<double>& reading = q.key == "ac_resistance_mOhm" ? c.ac_resistance_mOhm
                                           : q.key == "leak_mA"          ? c.leak_mA
                                           : q.key == "arrival_V"        ? c.voltage_V
                                           : q.key == "mass_kg"          ? c.mass_kg
                                                                         : c.thickness_mm;
    const double share =
        q.key == "ac_resistance_mOhm" ? project.test.ac_meter_percent() / 100.0 : q.meter_share;
    if (reading) add(c.label, *reading, share * std::abs(*reading) / std::numbers::sqrt3);
  }
  return result;
}

void report_limit(const LotResult& r, const Quantity& q, Plan& plan) {
  std::vector<std::string> out, open;
  for (std::size_t k = 0; k < r.judgements.size(); ++k) {
    if (r.judgements[k].verdict == bench::Verdict::reject) out.push_back(r.quantity.labels[k]);
    if (r.judgements[k].verdict == bench::Verdict::undecided) open.push_back(r.quantity.labels[k]);
  }
  const auto say = [&](const std::vector<std::string>& labels, findings::Id id, Severity severity,
                       std::string what, std::string remedy) {
    if (labels.empty()) return;
    std::string where;
    for (const std::string& l : labels) where += (where.empty() ? "" : ", ") + l;
    plan.findings.push_back(
        {.id = id,
         .severity = severity,
         .what = std::move(what),
         .where = where,
         .limit = fmt::format("{:g} {}", r.limit->value, r.quantity.unit),
         .why = "The limit is yours; the verdict minds what the meter leaves open.",
         .remedy = std::move(remedy),
         .basis = "[JCGM106] guard band"});
  };
  say(out, q.out, Severity::caution,
      fmt::format("{} cell{} {} your limit for {}.", out.size(), out.size() == 1 ? "" : "s",
                  out.size() == 1 ? "breaks" : "break", r.quantity.label),
      "Measure again on clean terminals; if it stays, set the cell aside and claim it in time.");
  say(open, q.undecided, Severity::note,
      fmt::format("{} cell{} cannot be judged for {}: the limit lies within the uncertainty.",
                  open.size(), open.size() == 1 ? "" : "s", r.quantity.label),
      "Measure again, several times or on a better meter.");
}

/// "50/25, 20" as testers; what cannot be read is a finding.
std::vector<bench::QueueTester> testers_of(const Project& project, Plan& plan) {
  std::vector<bench::QueueTester> testers;
  const std::string text = project.queue.testers();
  const double usual_A =
      project.cell.rated_capacity.in(base::units::Ah)*project.test.reference_rate();
  if (text.empty()) return {{"1", usual_A, usual_A}};
  for (const std::string_view part : base::listed(text)) {
    const std::size_t slash = part.find('/');
    const auto charge = base::parse_number(base::trimmed(part.substr(0, slash)));
    const auto discharge = slash == std::string_view::npos
                               ? charge
                               : base::parse_number(base::trimmed(part.substr(slash + 1)));
    if (charge && discharge && *charge > 0.0 && *discharge > 0.0)
      testers.push_back({std::to_string(testers.size() + 1), *charge, *discharge});
    else
      plan.findings.push_back({.id = findings::Id::queue_tester_unreadable,
                               .severity = Severity::caution,
                               .what = fmt::format("'{}' is no tester's currents.", part),
                               .where = "[queue] testers",
                               .why = "The queue leaves this tester out.",
                               .remedy = "Write charge/discharge in amperes, for example "
                                         "\"50/50, 20/40\"."});
  }
  return testers;
}

}  // namespace

void spread_of_lot(const Project& project, Plan& plan) {
  const double risk = project.test.risk_percent() / 100.0;
  for (const Quantity& q : quantities) {
    LotResult r;
    r.quantity = gather(project, plan, q);
    if (r.quantity.values.size() < 3) continue;
    r.distribution = bench::distribution_of(r.quantity);
    r.outliers = bench::outliers_of(r.quantity);
    if (q.key == "capacity_Ah") {
      r.limit = bench::Limit{
          project.cell.rated_capacity.in(base::units::Ah)*project.test.limit_percent() / 100.0,
          q.side};
      r.judgements = bench::judge_lot(r.quantity, *r.limit, risk, 0.0);  // reported with the cells
    } else if (const auto limit = q.limit ? q.limit(project) : std::nullopt) {
      r.limit = bench::Limit{*limit, q.side};
      r.judgements = bench::judge_lot(r.quantity, *r.limit, risk, 0.0);
      report_limit(r, q, plan);
    }
    plan.lot.push_back(std::move(r));
  }
}

void queue_tests(const Project& project, Plan& plan) {
  const std::vector<bench::QueueTester> testers = testers_of(project, plan);
  std::vector<bench::QueueTask> tasks;
  double typical_V = 0.0;
  std::vector<double> volts;
  for (const Cell& c : project.cells)
    if (c.voltage_V) volts.push_back(*c.voltage_V);
  if (!volts.empty()) typical_V = base::median(volts);
  for (std::size_t k = 0; k < project.cells.size() && k < plan.cells.size(); ++k) {
    if (plan.cells[k].standing == Standing::tested) continue;
    const Cell& c = project.cells[k];
    // A cell that arrived lower than the lot is tested while a claim is open.
    const bool suspect = c.voltage_V && typical_V - *c.voltage_V > 0.02;
    tasks.push_back({c.label, project.cell.rated_capacity.in(base::units::Ah),
                     project.queue.arrival_charge(), suspect});
  }
  if (tasks.empty() || testers.empty()) return;
  const double from_h = project.queue.from_h(), to_h = project.queue.to_h(),
               handling_h = project.queue.handling_h();
  if (to_h <= from_h + handling_h) {
    plan.findings.push_back({.id = findings::Id::queue_hours,
                             .severity = Severity::caution,
                             .what = "Nobody is there long enough to change a cell.",
                             .where = "[queue] from_h, to_h, handling_h",
                             .measured = fmt::format("{:g} to {:g} h", from_h, to_h),
                             .limit = fmt::format("{:g} h", handling_h),
                             .why = "No test can be planned.",
                             .remedy = "Set to_h later than from_h."});
    return;
  }
  plan.queue =
      bench::plan_queue(tasks, testers,
                        {.rest_h = project.queue.rest_h(),
                         .handling_h = handling_h,
                         .storage_charge = project.queue.storage_charge(),
                         .attended_from_h = from_h,
                         .attended_to_h = to_h,
                         .runs_unattended = project.queue.unattended() == project::YesNo::yes,
                         .passes_charge_on = project.queue.pass_on() == project::YesNo::yes});
  const std::string basis = fmt::format("{} cells on {} tester{}", tasks.size(), testers.size(),
                                        testers.size() == 1 ? "" : "s");
  plan.test.figures.push_back(
      {"queue_days",
       "days until every cell is tested",
       {.value = plan.queue->days, .unit = "d", .basis = basis + ", as planned"}});
  plan.test.figures.push_back({"queue_hours_a_cell",
                               "hours a cell on its tester",
                               {.value = plan.queue->hours_a_cell, .unit = "h", .basis = basis}});
  plan.test.sentence +=
      fmt::format(" {} wait{} in the queue: {:.0f} days on {} tester{}.", tasks.size(),
                  tasks.size() == 1 ? "s" : "", std::ceil(plan.queue->days), testers.size(),
                  testers.size() == 1 ? "" : "s");
  if (project.queue.unattended() == project::YesNo::yes)
    plan.findings.push_back(
        {.id = findings::Id::tests_unattended,
         .severity = Severity::caution,
         .what = "The queue lets cells charge and discharge while nobody is there.",
         .where = "[queue] unattended",
         .why = "A loose clip, a wrong limit or a bad cell can heat for hours with nobody to see.",
         .remedy =
             "Let a tester run alone only behind its own and a second cut-out, on a bench that "
             "cannot burn, with a smoke alarm; or set unattended to no.",
         .basis = "common practice, no source"});
}

}  // namespace works::steps
