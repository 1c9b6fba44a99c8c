// SPDX-License-Identifier: Apache-2.0
#include "book/content.hpp"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "book/house_pages.hpp"
#include "book/lot_pages.hpp"
#include "book/plates.hpp"
#include "book/references_text.hpp"
#include "book/twin_pages.hpp"
#include "book/wiring_pages.hpp"
#include "commission/checklists.hpp"
#include "drawing/plot.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"

namespace book {
namespace {

using base::Figure;
using findings::Severity;
using project::Project;
using works::Plan;
using works::Step;

constexpr double text_width_mm = 168.0;

KeyFigure key_figure(const works::Named& n) {
  return {n.label, base::show_value(n.figure), base::show_uncertainty(n.figure), n.figure.unit};
}

std::string value_and_unit(const Figure& f) { return base::show(f); }

Table figures_table(const Step& step) {
  Table table{
      {{"what", false, 3.2}, {"value", true, 1.2}, {"where it comes from", false, 3.4}}, {}, true};
  for (const works::Named& n : step.figures) {
    std::string from = n.figure.reckoning;
    if (!n.figure.basis.empty()) from += (from.empty() ? "" : "; ") + n.figure.basis;
    table.rows.push_back({n.label, value_and_unit(n.figure), from});
  }
  return table;
}

void add_step(Section& section, const Step& step) {
  section.blocks.push_back(Heading{step.question});
  section.blocks.push_back(Paragraph{step.sentence, true});
  if (!step.figures.empty()) section.blocks.push_back(figures_table(step));
}

CautionBox defer_box() {
  return {Severity::caution, "Before you rely on this", {std::string(commission::defer)}};
}

Section glance(const Plan& plan) {
  Section s{"The bank at a glance", {}, true};
  int stop = 0, caution = 0;
  for (const findings::Finding& f : plan.findings)
    (f.severity == Severity::stop ? stop : caution) += f.severity != Severity::note;
  if (stop + caution > 0)
    s.blocks.push_back(
        CautionBox{stop > 0 ? Severity::stop : Severity::caution,
                   fmt::format("{} thing{} to look at before going on: see “Findings”.",
                               stop + caution, stop + caution == 1 ? "" : "s"),
                   {},
                   true});
  for (const Step* step : plan.steps()) {
    if (step->name == "book") continue;
    std::string title = step->name;
    title.front() = static_cast<char>(title.front() - 'a' + 'A');
    s.blocks.push_back(Heading{title + ": " + step->question});
    s.blocks.push_back(Paragraph{step->sentence});
  }
  return s;
}

Section emergency(const Project& project, const Plan& plan) {
  Card card{"In an emergency",
            {},
            {},
            "Hang this page where a stranger finds it: by the isolator, and by the door."};
  for (const std::string_view step : commission::emergency_steps()) card.steps.emplace_back(step);
  const works::Named* energy = works::find_figure(plan, "size.energy_kWh");
  const works::Named* volts = works::find_figure(plan, "size.max_V");
  card.facts = {
      {"What it is", "lithium iron phosphate battery store"},
      {"Energy", energy ? base::significant(energy->figure.value, 3) + " kWh" : "–"},
      {"Voltage, at most", volts ? base::fixed(volts->figure.value, 1) + " V direct current" : "–"},
      {"Packs", fmt::format("{}, each with its own fuse", project.layout.packs())},
      {"Solar voltage, at most", "…………… V direct current"},
      {"Address to tell them", "……………………………………"},
      {"Where", project.about.place().empty() ? "……………………………………" : project.about.place()},
      {"Battery isolator at", "……………………………………"},
      {"Solar isolator at", "……………………………………"},
      {"Who looks after it",
       project.about.contact().empty() ? "……………………………………" : project.about.contact()}};
  return {"Emergency card", {card}, true};
}

Section cautions() {
  Section s{"What can hurt", {}, true};
  s.blocks.push_back(Paragraph{
      "This work can burn, shock and kill. Read this page before every day of work on the bank.",
      true});
  std::vector<std::string> lines;
  for (const std::string_view c : commission::cautions()) lines.emplace_back(c);
  s.blocks.push_back(Numbered{std::move(lines)});
  s.blocks.push_back(
      Paragraph{"The usual cautions of the trade: common practice, no source, where none is named.",
                false, true});
  s.blocks.push_back(defer_box());
  return s;
}

std::string verdict_text(const works::CellResult& c) {
  if (c.standing == works::Standing::unreadable) return "log unreadable";
  if (!c.judgement) return "not tested";
  if (c.place == "set aside") return "set aside: " + c.reason;
  return c.judgement->verdict == bench::Verdict::accept   ? "conforms"
         : c.judgement->verdict == bench::Verdict::reject ? "falls short"
                                                          : "undecided";
}

Section cells(const Project& project, const Plan& plan) {
  Section s{"The cells", {}, true};
  s.blocks.push_back(Heading{plan.receive.question});
  s.blocks.push_back(Paragraph{plan.receive.sentence, true});
  s.blocks.push_back(Heading{plan.test.question});
  s.blocks.push_back(Paragraph{plan.test.sentence, true});
  if (!plan.test.figures.empty()) {
    KeyFigures key;
    for (const works::Named& n : plan.test.figures) key.figures.push_back(key_figure(n));
    s.blocks.push_back(std::move(key));
  }
  const auto any = [&](auto has) { return std::any_of(plan.cells.begin(), plan.cells.end(), has); };
  const bool efficiency =
      any([](const works::CellResult& c) { return c.energy_efficiency.has_value(); });
  const bool temperature =
      any([](const works::CellResult& c) { return c.temperature_C.has_value(); });
  Table table{{{"cell"},
               {"place"},
               {"capacity, Ah", true},
               {"±", true},
               {"energy, Wh", true},
               {"DC res., mΩ", true}},
              {},
              true};
  if (efficiency) table.columns.push_back({"efficiency", true});
  if (temperature) table.columns.push_back({"mean, °C", true});
  table.columns.push_back({"arrived, V", true});
  table.columns.push_back({"verdict", false, 1.6});
  std::map<std::string, const project::Cell*> readings;
  for (const project::Cell& c : project.cells) readings[c.label] = &c;
  double resistance_s = 0.0;
  for (const works::CellResult& c : plan.cells) {
    const auto value = [](const std::optional<Figure>& f) {
      return f ? base::show_value(*f) : std::string("–");
    };
    const project::Cell* r = readings[c.label];
    if (c.resistance_time_s) resistance_s = *c.resistance_time_s;
    std::vector<std::string> row = {
        c.label,
        c.place,
        value(c.capacity_Ah),
        c.capacity_Ah && c.capacity_Ah->u
            ? base::fixed(*c.capacity_Ah->u, base::decimals_for(*c.capacity_Ah->u))
            : "–",
        c.energy_Wh ? base::fixed(c.energy_Wh->value, 0) : "–",
        value(c.resistance_mOhm)};
    if (efficiency)
      row.push_back(c.energy_efficiency ? base::fixed(c.energy_efficiency->value, 3) : "–");
    if (temperature) row.push_back(c.temperature_C ? base::fixed(c.temperature_C->value, 1) : "–");
    row.push_back(r && r->voltage_V ? base::fixed(*r->voltage_V, 3) : "–");
    row.push_back(verdict_text(c));
    table.rows.push_back(std::move(row));
  }
  if (!table.rows.empty()) s.blocks.push_back(std::move(table));
  s.blocks.push_back(Paragraph{
      fmt::format(
          "Capacity with its standard uncertainty; twice that covers about 95 %. Resistance is direct current, {} s after a step.",
          resistance_s > 0.0 ? base::significant(resistance_s, 2) : "some"),
      false, true});
  auto curves = draw_curves(plan, 32.5, 18.5);
  if (!curves.empty()) {
    s.blocks.push_back(Heading{"Every cell's discharge"});
    s.blocks.push_back(Plate{
        std::move(curves),
        "Voltage against charge taken out, all on equal axes; the figure is the capacity in Ah. The quiet line behind is the lot's typical cell. “Aside”, “short” and “open” say which were set aside, fall short, or cannot be judged.",
        5});
  }
  for (Block& block : lot_blocks(plan)) s.blocks.push_back(std::move(block));
  return s;
}

Section packs(const Project& project, const Plan& plan) {
  Section s{"Which cell goes where", {}, true};
  s.blocks.push_back(Paragraph{plan.match.sentence, true});
  if (!plan.match.figures.empty()) {
    KeyFigures key;
    for (const works::Named& n : plan.match.figures) {
      if (n.key == "bank_capacity_Ah" || n.key == "smallest_pack_Ah" || n.key == "random_bank_Ah")
        key.figures.push_back(key_figure(n));
    }
    s.blocks.push_back(std::move(key));
  }
  if (plan.arrangement) {
    const auto& a = plan.arrangement->assignment;
    for (std::size_t k = 0; k < a.packs.size(); ++k) {
      s.blocks.push_back(
          Heading{fmt::format("Pack {}: {} Ah", layout::pack_name(static_cast<int>(k)),
                              base::fixed(a.packs[k].capacity.in(base::units::Ah), 1))});
      s.blocks.push_back(Plate{{draw_pack(project, plan, k, text_width_mm)}, "", 1});
    }
    s.blocks.push_back(Paragraph{
        "Labels are those on the cells; the small number is the group, counted from the pack's minus. Copper bars join plus to minus along the row and back. Before a bar goes on: check the sign at both ends with a meter.",
        false, true});
    s.blocks.push_back(CautionBox{
        Severity::stop,
        "Between a pack's plus and its minus stands its whole voltage, and its whole fault current.",
        {"An insulating wall between the two, and each covered until its lead goes on."}});
    std::string spares;
    std::string aside, to_claim;
    for (const works::CellResult& c : plan.cells) {
      const bool short_of_it = c.judgement && c.judgement->verdict == bench::Verdict::reject;
      std::string* list = c.place == "set aside" ? &aside
                          : c.place == "spare"   ? (short_of_it ? &to_claim : &spares)
                                                 : nullptr;
      if (list != nullptr) *list += (list->empty() ? "" : ", ") + c.label;
    }
    s.blocks.push_back(
        Paragraph{"Spares: " + (spares.empty() ? "none" : spares) + "." +
                  (to_claim.empty() ? "" : " Fallen short, to be claimed: " + to_claim + ".") +
                  (aside.empty() ? "" : " Set aside: " + aside + ".") +
                  " Keep them at a third to a half of charge, and look at them twice a year."});
    s.blocks.push_back(Paragraph{"Found by: " + a.method + ".", false, true});
  }
  return s;
}

Section money(const Project& project, const Plan& plan) {
  Section s{"What it must do, and what it costs", {}, true};
  add_step(s, plan.brief);
  s.blocks.push_back(Heading{plan.choose.question});
  s.blocks.push_back(Paragraph{plan.choose.sentence, true});
  if (!plan.offers.empty()) {
    const std::string currency = project.about.currency();
    Table table{{{"offer", false, 2.4},
                 {"cells", true},
                 {"landed, " + currency, true},
                 {"a cell, " + currency, true},
                 {"a good kWh, " + currency, true},
                 {"lasts, a", true},
                 {"a kWh out, " + currency, true},
                 {"choice", false, 0.7}},
                {},
                true};
    for (const works::OfferResult& o : plan.offers)
      table.rows.push_back({o.offer.name, std::to_string(o.offer.quantity),
                            base::fixed(o.total.value, 0), base::fixed(o.per_cell.value, 1),
                            base::fixed(o.per_kWh.value, 0),
                            o.life_years > 0.0 ? base::fixed(o.life_years, 0) : "–",
                            o.life_years > 0.0 ? base::fixed(o.per_kWh_out.value, 3) : "–",
                            o.offer.chosen ? "chosen" : ""});
    s.blocks.push_back(std::move(table));
  }
  if (!plan.choose.figures.empty()) s.blocks.push_back(figures_table(plan.choose));
  if (!plan.margins.empty()) {
    drawing::Bars bars;
    bars.title = "How far the cheapest cells stay ahead";
    bars.unit = project.about.currency() + " a kilowatt-hour out";
    bars.now = plan.margin;
    bars.mark = 0.0;
    for (const works::Margin& m : plan.margins) bars.bars.push_back({m.what, m.low, m.high});
    s.blocks.push_back(Plate{
        {drawing::draw(bars)},
        "By how much the cheapest cells over their life stay ahead of the next, with each assumption at half (copper) and "
        "at double (dark). Left of the broken line another offer would be the cheapest.",
        1});
  }
  add_step(s, plan.size);
  add_step(s, plan.order);
  return s;
}

Section settings(const Plan& plan) {
  Section s{"Settings", {}, true};
  s.blocks.push_back(Paragraph{
      "Charger, inverter and BMS in layers: the charger tapers first, the inverter stops next, the BMS opens last.",
      true});
  std::string device;
  Table table;
  const auto flush = [&] {
    if (table.rows.empty()) return;
    s.blocks.push_back(Heading{device});
    s.blocks.push_back(std::move(table));
  };
  for (const commission::Setting& line : plan.settings) {
    if (line.device != device) {
      flush();
      device = line.device;
      const bool cell = std::any_of(
          plan.settings.begin(), plan.settings.end(),
          [&](const commission::Setting& l) { return l.device == device && !l.per_cell.empty(); });
      table = Table{{{"setting", false, 2.0}, {"value", true}}, {}, true};
      if (cell) table.columns.push_back({"a cell", true});
      for (const Column& c :
           {Column{"why", false, 3.2}, Column{"basis", false, 0.8}, Column{"set", false, 0.5}})
        table.columns.push_back(c);
    }
    const std::string basis = line.basis.starts_with("common")        ? "practice"
                              : line.basis.starts_with("from memory") ? "memory"
                                                                      : "cell's sheet";
    table.rows.push_back({line.name, line.value});
    if (table.columns[2].numeric) table.rows.back().push_back(line.per_cell);
    for (const std::string& field : {line.reason, basis, std::string("☐")})
      table.rows.back().push_back(field);
  }
  flush();
  s.blocks.push_back(Paragraph{
      "Basis: “practice” is common practice, no source; “memory” is from memory; in both the cell's sheet overrides: compare each line with the sheet of the cells in the box. Tick “set” when the device shows the value.",
      false, true});
  s.blocks.push_back(defer_box());
  return s;
}

Section years(const Project& project, const Plan& plan) {
  Section s{"The years ahead", {}, true};
  const works::steps::Use use = works::steps::use_of(project, plan);
  s.blocks.push_back(Paragraph{plan.forecast.sentence, true});
  s.blocks.push_back(Plate{
      {draw_years(project, plan, text_width_mm)},
      "Storage and cycling loss added, by Naumann 2018 and 2020 and by Schimpe 2018, for the use stated below.",
      1});
  s.blocks.push_back(figures_table(plan.forecast));
  s.blocks.push_back(Paragraph{
      fmt::format(
          "{}: {:.0f} equivalent full cycles a year, {:.0f} % deep, at {:g} °C, mean charge {:.0f} %.",
          use.from_house ? "As the first year at the house uses it" : "Assumed", use.cycles_a_year,
          use.depth * 100.0, use.temperature_C, use.mean_charge * 100.0),
      false, true});
  add_step(s, plan.watch);
  return s;
}

Section year_log() {
  Section s{"Written down, year by year", {}, true};
  s.blocks.push_back(Paragraph{
      "The bank's own record is worth more than any forecast: one line a year, and one after every change.",
      true});
  Table log{{{"date", false, 1.0},
             {"capacity, full to stop, Ah", false, 1.2},
             {"spread at full, mV", false, 1.1},
             {"warmest joint, °C", false, 1.1},
             {"remarks", false, 3.0},
             {"initials", false, 0.8}},
            {},
            true};
  log.least_row_mm = 8.2;
  for (int i = 0; i < 24; ++i) log.rows.push_back({" ", "", "", "", "", ""});
  s.blocks.push_back(std::move(log));
  return s;
}

Section findings(const Plan& plan) {
  Section s{"Findings", {}, true};
  if (plan.findings.empty()) s.blocks.push_back(Paragraph{"No check found anything to say.", true});
  for (const Severity severity : {Severity::stop, Severity::caution, Severity::note}) {
    for (const findings::Finding& f : plan.findings) {
      if (f.severity != severity) continue;
      CautionBox box{severity, f.what, {}};
      std::string facts = f.where;
      if (!f.measured.empty())
        facts += (facts.empty() ? "" : ": ") + f.measured +
                 (f.limit.empty() ? "" : ", limit " + f.limit);
      if (!facts.empty()) box.lines.push_back(facts);
      if (!f.why.empty()) box.lines.push_back(f.why);
      if (!f.remedy.empty()) box.lines.push_back("To do: " + f.remedy);
      if (!f.basis.empty()) box.lines.push_back("Basis: " + f.basis + ".");
      s.blocks.push_back(std::move(box));
    }
  }
  return s;
}

Section sources(const Plan& plan) {
  Section s{"Where the numbers come from", {}, true};
  s.blocks.push_back(Paragraph{
      "Each figure of this book can be worked out again: the reckonings below are those of the command “packhouse reckon”.",
      true});
  std::set<std::string> used;
  std::set<std::string> keys = {"JCGM100", "JCGM106"};
  for (const Step* step : plan.steps())
    for (const works::Named& n : step->figures) {
      if (!n.figure.reckoning.empty()) used.insert(n.figure.reckoning);
      for (const std::string& k : reference_keys(n.figure.basis)) keys.insert(k);
    }
  used.insert({"capacity-uncertainty", "guard-band", "outliers"});
  Table table{
      {{"reckoning", false, 1.2}, {"formula", false, 2.4}, {"source and validity", false, 2.6}},
      {},
      true};
  for (const base::Reckoning& r : works::reckonings()) {
    if (!used.contains(std::string(r.name))) continue;
    for (const std::string& k : reference_keys(std::string(r.source))) keys.insert(k);
    table.rows.push_back({std::string(r.name), std::string(r.formula),
                          std::string(r.source) + ". " + std::string(r.validity) + "."});
  }
  s.blocks.push_back(std::move(table));
  for (const findings::Finding& f : plan.findings)
    for (const std::string& k : reference_keys(f.basis)) keys.insert(k);
  s.blocks.push_back(Heading{"Sources"});
  Table list{{{"", false, 1.0}, {"", false, 5.0}}, {}, true};
  for (const std::string& k : keys)
    if (const std::string text = reference_text(k); !text.empty())
      list.rows.push_back({"[" + k + "]", text});
  s.blocks.push_back(std::move(list));
  return s;
}

}  // namespace

std::vector<std::string> reference_keys(const std::string& text) {
  std::vector<std::string> keys;
  for (std::size_t open = text.find('['); open != std::string::npos;
       open = text.find('[', open + 1)) {
    const std::size_t close = text.find(']', open);
    if (close == std::string::npos) break;
    const std::string key = text.substr(open + 1, close - open - 1);
    const bool plain = std::all_of(key.begin(), key.end(), [](char c) {
      return (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-';
    });
    const bool keylike =
        plain && !key.empty() && key.front() >= 'A' && key.front() <= 'Z' &&
        std::any_of(key.begin(), key.end(), [](char c) { return c >= '0' && c <= '9'; });
    const bool name_only = key == "NIST-EDA" || key == "WCO-Valuation" || key == "EU-VAT";
    if (keylike || name_only) keys.push_back(key);
  }
  return keys;
}

std::string reference_text(const std::string& key) {
  const std::string all(references_text), mark = "- **[" + key + "]** ";
  const std::size_t at = all.find(mark);
  if (at == std::string::npos) return "";
  std::string text = all.substr(at + mark.size(), all.find('\n', at) - at - mark.size());
  if (const std::size_t use = text.find(" *Taken:"); use != std::string::npos) text.resize(use);
  return text;
}

/// A figure never parts from its unit at a line's end: the blank between them does not break.
static std::string keep_units(const std::string& text) {
  static const std::set<std::string> units = {"A", "kA", "V",  "mV",  "Ah",  "Wh",    "kWh",
                                              "W", "kW", "%",  "mm²", "m",   "h",     "hours",
                                              "s", "°C", "mΩ", "kg",  "EUR", "cells", "C"};
  std::string result = text;
  for (std::size_t at = text.find(' '); at != std::string::npos; at = result.find(' ', at + 1)) {
    if (at == 0 || result[at - 1] < '0' || result[at - 1] > '9') continue;
    std::size_t end = result.find_first_of(" .,;:)", at + 1);
    if (end == std::string::npos) end = result.size();
    if (units.contains(result.substr(at + 1, end - at - 1))) result.replace(at, 1, "\u00a0");
  }
  return result;
}

Document compose(const Project& project, const Plan& plan, const std::string& printed_on) {
  Document d;
  d.title = project.about.name();
  d.subtitle = "The book of the bank";
  d.foot = d.title + (printed_on.empty() ? "" : " · printed " + printed_on);
  for (const char* path : {"size.energy_kWh", "size.usable_kWh", "match.smallest_pack_Ah",
                           "wire.fault_current_pack_kA"})
    if (const works::Named* n = works::find_figure(plan, path))
      d.cover_figures.push_back(key_figure(*n));
  if (const std::string place = project.about.place(); !place.empty())
    d.cover_lines.push_back(place);
  if (const std::string note = project.about.note(); !note.empty()) d.cover_lines.push_back(note);
  d.cover_lines.push_back(
      "Keep this book in the cabinet, with the bank. Whoever opens the bank reads “What can hurt” first.");
  if (plan.arrangement) d.cover_drawing.push_back(draw_pack(project, plan, 0, text_width_mm));
  d.sections = {glance(plan),
                emergency(project, plan),
                cautions(),
                money(project, plan),
                cells(project, plan),
                packs(project, plan),
                wiring_pages(project, plan),
                joint_pages(project, plan),
                settings(plan),
                checklist_pages(project, plan),
                years(project, plan),
                year_log(),
                findings(plan),
                sources(plan)};
  if (std::optional<Section> behaviour = behaviour_pages(project, plan)) {
    const auto before = std::find_if(d.sections.begin(), d.sections.end(),
                                     [](const Section& s) { return s.title == "Checklists"; });
    d.sections.insert(before, std::move(*behaviour));
  }
  if (std::optional<Section> house = house_pages(project, plan)) {
    const auto before = std::find_if(d.sections.begin(), d.sections.end(),
                                     [](const Section& s) { return s.title == "The years ahead"; });
    d.sections.insert(before, std::move(*house));
  }
  for (Section& section : d.sections)
    for (Block& block : section.blocks)
      if (auto* paragraph = std::get_if<Paragraph>(&block))
        paragraph->text = keep_units(paragraph->text);
  return d;
}

}  // namespace book
