// SPDX-License-Identifier: Apache-2.0
#include "book/wiring_pages.hpp"

#include <algorithm>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/figure.hpp"
#include "book/diagram.hpp"
#include "commission/checklists.hpp"
#include "works/worklist.hpp"

namespace book {
namespace {

using findings::Severity;

constexpr double text_width_mm = 168.0;

std::string seconds(const std::optional<double>& s) {
  if (!s) return "–";
  if (*s < 0.01) return "below 0.01 s";
  if (*s > 600.0) return base::significant(*s / 60.0, 2) + " min";
  return base::significant(*s, 2) + " s";
}

Table runs_table(const works::Plan& plan) {
  Table table{{{"run", false, 1.3},
               {"section", false, 1.1},
               {"carries / needs, A", true, 1.4},
               {"drop, %", true, 0.8},
               {"fuse, A", true, 0.8},
               {"short: least … most, kA", true, 1.6},
               {"opens within: weakest / strongest", false, 1.9},
               {"decided by", false, 1.1}},
              {},
              true};
  for (const wiring::RunResult& r : plan.circuit.runs)
    table.rows.push_back(
        {r.run.name,
         fmt::format("{}{}",
                     r.run.awg.empty() ? fmt::format("{:g} mm²", r.area_mm2) : "gauge " + r.run.awg,
                     r.proposed ? "" : ", given"),
         r.current_A ? fmt::format("{} / {}", base::significant(r.ampacity_A, 3),
                                   base::significant(wiring::continuous_factor * *r.current_A, 3))
                     : base::significant(r.ampacity_A, 3) + " / –",
         r.current_A ? base::significant(r.drop_percent, 2) : "–",
         r.fuse_A > 0.0 ? base::significant(r.fuse_A, 3) : "–",
         fmt::format("{} … {}", base::significant(r.fault.low_A / 1e3, 2),
                     base::significant(r.fault.high_A / 1e3, 3)),
         seconds(r.opens_low_s) + " / " + seconds(r.opens_high_s),
         r.decided_by.empty() ? "–" : r.decided_by});
  return table;
}

Table figures_table(const works::Step& step) {
  Table table{
      {{"what", false, 3.2}, {"value", true, 1.2}, {"where it comes from", false, 3.4}}, {}, true};
  for (const works::Named& n : step.figures) {
    std::string from = n.figure.reckoning;
    if (!n.figure.basis.empty()) from += (from.empty() ? "" : "; ") + n.figure.basis;
    table.rows.push_back({n.label, base::show(n.figure), from});
  }
  return table;
}

}  // namespace

Section wiring_pages(const project::Project& project, const works::Plan& plan) {
  Section s{"Wiring and protection", {}, true};
  s.blocks.push_back(Paragraph{plan.wire.sentence, true, false});
  s.blocks.push_back(Plate{{draw_circuit(project, plan, text_width_mm)}, "", 1});
  s.blocks.push_back(Heading{"Runs of cable"});
  s.blocks.push_back(runs_table(plan));
  s.blocks.push_back(Paragraph{
      "A run passes where it carries its current with a quarter in hand at its terminals' "
      "temperature, stands a tenth above its fuse, drops at most 1 %, and survives a short until its "
      "fuse has opened. “Opens within” is the latest that a gG fuse may take, at the weakest and at the "
      "strongest short; gates from memory. “Decided by” is the check that ruled out the next smaller.",
      false, true});
  s.blocks.push_back(Heading{"Figures"});
  s.blocks.push_back(figures_table(plan.wire));
  s.blocks.push_back(CautionBox{
      Severity::stop,
      "Fault current",
      {"A dead short at a pack drives thousands of amperes until its fuse opens. Only a rating printed for direct current counts, in volts and in kiloamperes.",
       "Breaking capacity is chosen with the lowest resistance the pack can have; whether the fuse still opens, with the highest.",
       std::string(commission::defer)}});
  return s;
}

Section joint_pages(const project::Project& project, const works::Plan& plan) {
  Section s{"Joints and sense leads", {}, true};
  s.blocks.push_back(Heading{"Joint map"});
  const double pack_A =
      project.cell.rated_capacity.in(base::units::Ah)*project.layout.parallel() * 0.2;
  s.blocks.push_back(Paragraph{
      fmt::format(
          "Meter from terminal to terminal, never on the bolt, at a steady current of about "
          "{} A. Write the millivolts; over the current they are milliohms. What stands out "
          "by half is taken apart, cleaned and torqued again. Torque: {}.",
          base::significant(pack_A, 2),
          project.joint.torque_Nm()
              ? fmt::format("{:g} N·m, from the cell's sheet", *project.joint.torque_Nm())
              : std::string("the cell's sheet says it; published values for M6 span 2.6 to "
                            "7.9 N·m, so none is printed here")),
      false, false});
  Table map{{{"joint", false, 1.2},
             {fmt::format("expected at {} A, mV", base::significant(pack_A, 2)), true, 1.4},
             {"read, mV", true, 1.0},
             {"µΩ", true, 0.8},
             {"heat at design, W", true, 1.1},
             {"", false, 1.2}},
            {},
            true};
  for (const wiring::Joint& j : plan.joints.joints)
    map.rows.push_back({j.name, base::fixed(j.expected_uOhm * pack_A * 1e-3, 1),
                        j.measured_uOhm ? base::fixed(*j.measured_uOhm * pack_A * 1e-3, 1) : "",
                        j.measured_uOhm ? base::significant(*j.measured_uOhm, 3) : "",
                        base::significant(j.heat_W, 2), j.stands_out ? "stands out" : ""});
  if (map.rows.size() <= 200) s.blocks.push_back(std::move(map));
  s.blocks.push_back(Heading{"Sense plug, pin by pin"});
  s.blocks.push_back(Paragraph{
      "The plug is out. Minus probe on pin 0, the pack's minus. Every pin reads one group more than "
      "the one before, all with the same sign. A minus sign means that two wires are exchanged: do not "
      "plug in. The BMS's own sheet may count its pins from 1.",
      false, false});
  const int packs = project.layout.packs(), series = project.layout.series();
  Table pins{{{"pin", true, 0.5}, {"expected, V", true, 1.0}}, {}, true};
  const int columns = std::min(packs, 4);
  for (int k = 0; k < columns; ++k) {
    pins.columns.push_back({"pack " + layout::pack_name(k) + ", V", true, 1.0});
    pins.columns.push_back({"", false, 1.0});
  }
  for (int i = 0; i <= series; ++i) {
    std::vector<std::string> row = {std::to_string(i), base::fixed(3.3 * i, 1)};
    for (int k = 0; k < columns; ++k) {
      const auto read = std::find_if(plan.sense.begin(), plan.sense.end(),
                                     [&](const commission::SenseTable& t) { return t.pack == k; });
      const bool has = read != plan.sense.end() && read->pins[std::size_t(i)].read_V;
      row.push_back(has ? base::fixed(*read->pins[std::size_t(i)].read_V, 3) : "");
      row.push_back(has ? read->pins[std::size_t(i)].verdict : "");
    }
    pins.rows.push_back(std::move(row));
  }
  s.blocks.push_back(std::move(pins));
  return s;
}

Section checklist_pages(const project::Project& project, const works::Plan& plan) {
  Section s{"Checklists", {}, true};
  s.blocks.push_back(Paragraph{plan.commission.sentence, true, false});
  s.blocks.push_back(figures_table(plan.commission));
  s.blocks.push_back(
      CautionBox{Severity::stop,
                 "The last hours of a top balance are where cells are ruined and fires begin.",
                 {"After a long flat wait the voltage climbs at once. Stay with it, with a clock.",
                  std::string(commission::defer)}});
  for (const works::WorkList& list : works::work_lists(project, plan)) {
    Checks checks{
        std::string(list.list->title) + (list.pack.empty() ? std::string() : ", pack " + list.pack),
        std::string(list.list->when),
        {},
        {}};
    // An unsigned pack's list is printed once: the next pack's is the same page.
    const bool untouched = std::none_of(list.steps.begin(), list.steps.end(), [](const auto& w) {
      return w.record.has_value() || !w.held_by.empty();
    });
    if (!list.pack.empty() && list.pack != layout::pack_name(0) && untouched) continue;
    if (!list.pack.empty() && list.pack == layout::pack_name(0) && untouched &&
        project.layout.packs() > 1)
      checks.title = std::string(list.list->title) + ", for each pack";
    for (const works::WorkStep& w : list.steps) {
      std::string text = w.text;
      if (w.expected)
        text += fmt::format(" Expected: {:.4g} to {:.4g} {}.", w.expected->low, w.expected->high,
                            w.expected->unit);
      std::vector<std::string_view> held;
      for (const findings::Id id : w.held_by) held.push_back(findings::row(id).says);
      if (!held.empty()) text += fmt::format(" Held: {}.", fmt::join(held, "; "));
      checks.steps.push_back(std::move(text));
      std::string who;
      if (w.record) {
        who = w.record->by + ", " + w.record->on;
        if (w.record->value)
          who += fmt::format(": {:g} {}", *w.record->value, w.expected ? w.expected->unit : "");
        if (!w.record->note.empty()) who += ". " + w.record->note;
      }
      checks.signed_by.push_back(std::move(who));
    }
    s.blocks.push_back(std::move(checks));
  }
  return s;
}

}  // namespace book
