// SPDX-License-Identifier: Apache-2.0
#include "book/lot_pages.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "book/plates.hpp"
#include "commission/checklists.hpp"

namespace book {
namespace {

using project::Project;
using works::CellResult;
using works::Plan;

std::string joined(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& w : words) text += (text.empty() ? "" : ", ") + w;
  return text.empty() ? "–" : text;
}

/// Digits that a spread deserves.
std::string shown(double value, double sd) {
  return base::fixed(value,
                     base::decimals_for(sd > 0.0 ? sd : std::max(1e-6, std::abs(value) * 1e-3)));
}

Table spread_table(const Plan& plan) {
  Table table{{{"quantity", false, 1.6},
               {"cells", true},
               {"median", true},
               {"sd", true},
               {"lowest", true},
               {"highest", true},
               {"unit"},
               {"stands out", false, 1.6},
               {"limit", false, 1.4}},
              {},
              true};
  for (const works::LotResult& r : plan.lot) {
    const bench::Distribution& d = r.distribution;
    std::vector<std::string> out;
    if (r.outliers)
      for (const std::size_t i : r.outliers->by_median) {
        const bool both = std::find(r.outliers->by_grubbs.begin(), r.outliers->by_grubbs.end(),
                                    i) != r.outliers->by_grubbs.end();
        out.push_back(r.quantity.labels[i] + (both ? "*" : ""));
      }
    std::string limit = "–";
    if (r.limit) {
      std::size_t bad = 0, open = 0;
      for (const bench::Judgement& j : r.judgements)
        bad += j.verdict == bench::Verdict::reject, open += j.verdict == bench::Verdict::undecided;
      limit = fmt::format("{} {:g}: {} out, {} open",
                          r.limit->side == bench::LimitSide::lower ? "≥" : "≤", r.limit->value, bad,
                          open);
    }
    table.rows.push_back({r.quantity.label, std::to_string(d.count), shown(d.median, d.sd),
                          base::significant(d.sd, 2), shown(d.lowest, d.sd), shown(d.highest, d.sd),
                          r.quantity.unit, joined(out), limit});
  }
  return table;
}

Table testers_table(const bench::Calibration& c) {
  Table table{{{"channel"},
               {"runs", true},
               {"gain, %", true},
               {"±", true},
               {"offset, A", true},
               {"before, %", true},
               {"after, %", true}},
              {},
              true};
  for (const bench::Channel& channel : c.channels)
    table.rows.push_back({channel.name, std::to_string(channel.runs),
                          fmt::format("{:+.2f}", channel.gain_percent.value),
                          base::significant(channel.gain_percent.u, 2),
                          channel.offset_A ? fmt::format("{:+.3f}", channel.offset_A->value) : "–",
                          fmt::format("{:+.2f}", channel.before_percent),
                          fmt::format("{:+.2f}", channel.after_percent)});
  return table;
}

Table queue_table(const bench::Queue& q) {
  Table table{{{"cell"},
               {"tester"},
               {"on at", false, 1.2},
               {"full", false, 1.2},
               {"discharge", false, 1.2},
               {"empty", false, 1.2},
               {"off at", false, 1.2},
               {"left at", true}},
              {},
              true};
  for (const bench::QueueSlot& s : q.slots)
    table.rows.push_back({s.label, s.tester, bench::day_and_clock(s.start_h),
                          bench::day_and_clock(s.full_h), bench::day_and_clock(s.discharge_h),
                          bench::day_and_clock(s.empty_h), bench::day_and_clock(s.end_h),
                          fmt::format("{:.0f} %", 100.0 * s.end_charge)});
  return table;
}

Table budget_table(const CellResult& c) {
  Table table{{{"input", false, 3.0},
               {"standard uncertainty", true, 1.6},
               {"sensitivity", true, 1.4},
               {"contributes, Ah", true, 1.4}},
              {},
              true};
  for (const bench::BudgetLine& line : c.budget)
    table.rows.push_back({std::string(line.input), base::significant(line.u, 3),
                          base::significant(line.sensitivity, 3),
                          base::fixed(line.contribution_Ah, 3)});
  double squares = 0.0;
  for (const bench::BudgetLine& line : c.budget)
    squares += line.contribution_Ah * line.contribution_Ah;
  table.rows.push_back(
      {"together, root of the squares", "", "", base::fixed(std::sqrt(squares), 3)});
  return table;
}

/// The tested cell whose capacity is the median.
const CellResult* typical(const Plan& plan) {
  std::vector<const CellResult*> tested;
  for (const CellResult& c : plan.cells)
    if (c.capacity_Ah && !c.budget.empty()) tested.push_back(&c);
  if (tested.empty()) return nullptr;
  std::sort(tested.begin(), tested.end(), [](const CellResult* a, const CellResult* b) {
    return a->capacity_Ah->value < b->capacity_Ah->value;
  });
  return tested[tested.size() / 2];
}

std::string conditions_text(const CellResult& c) {
  if (!c.conditions) return "as given in cells.csv";
  const bench::Conditions& k = *c.conditions;
  std::string text = fmt::format(
      "charged to {:.2f} V until {:.1f} A, rested {:.1f} h, discharged at {:.1f} A ({:.2f} of the "
      "capacity an hour) to {:.2f} V",
      k.full_V, k.tail_A, k.rest_h, k.current_A, k.rate_per_h, k.end_V);
  if (c.temperature_C) text += fmt::format(", at {:.1f} °C on the mean", c.temperature_C->value);
  return text;
}

}  // namespace

std::vector<Block> lot_blocks(const Plan& plan) {
  std::vector<Block> blocks;
  if (!plan.lot.empty()) {
    blocks.emplace_back(Heading{"The lot in figures"});
    blocks.emplace_back(spread_table(plan));
    std::vector<drawing::Drawing> bars;
    for (const works::LotResult& r : plan.lot) bars.push_back(draw_histogram(r, 54.0, 26.0));
    blocks.emplace_back(Plate{
        std::move(bars),
        "How many cells show how much. The quiet line is the median; a limit is drawn amber.", 3});
    blocks.emplace_back(Paragraph{
        "“Stands out” is by the modified z-score, 3.5; a star: Grubbs' test at 0.05 finds it too. "
        "Limits are judged with a guard band: what lies within the uncertainty stays open. 1 kHz "
        "and DC resistance are different quantities and are never compared.",
        false, true});
  }
  if (plan.calibration) {
    blocks.emplace_back(Heading{"The testers against each other"});
    blocks.emplace_back(testers_table(*plan.calibration));
    blocks.emplace_back(Paragraph{
        fmt::format("One reference cell, {:.2f} Ah, went round. Runs spread by {:.2f} % before and "
                    "{:.2f} % after each channel was corrected; {}.",
                    plan.calibration->reference_Ah, plan.calibration->spread_before_percent,
                    plan.calibration->spread_after_percent,
                    plan.calibration->trusted.empty()
                        ? "the mean of all is taken as right"
                        : "channel " + plan.calibration->trusted + " is taken as right"),
        false, true});
  }
  if (const CellResult* c = typical(plan)) {
    blocks.emplace_back(Heading{fmt::format("How sure one capacity is: {}", c->label)});
    blocks.emplace_back(budget_table(*c));
    std::string text = "Tested so: " + conditions_text(*c) + ".";
    if (c->reference_capacity_Ah)
      text += fmt::format(" Brought to reference conditions it is {}.",
                          base::show(*c->reference_capacity_Ah));
    blocks.emplace_back(Paragraph{text + " Budget after [JCGM100] 5.1.2.", false, true});
  }
  if (plan.queue) {
    blocks.emplace_back(Heading{"Still to be tested"});
    blocks.emplace_back(queue_table(*plan.queue));
    blocks.emplace_back(
        Paragraph{fmt::format("{:.1f} h a cell; somebody must be there for {:.0f} h in all, on {} "
                              "occasions to change cells.",
                              plan.queue->hours_a_cell, plan.queue->attended_h,
                              plan.queue->attended_at_h.size()),
                  false, true});
  }
  return blocks;
}

std::vector<std::string> cells_to_claim(const Plan& plan) {
  std::vector<std::string> labels;
  const auto add = [&](const std::string& label) {
    if (std::find(labels.begin(), labels.end(), label) == labels.end()) labels.push_back(label);
  };
  for (const CellResult& c : plan.cells)
    if (c.judgement && c.judgement->verdict == bench::Verdict::reject) add(c.label);
  for (const works::LotResult& r : plan.lot)
    for (std::size_t k = 0; k < r.judgements.size(); ++k)
      if (r.judgements[k].verdict == bench::Verdict::reject) add(r.quantity.labels[k]);
  return labels;
}

Document compose_claim(const Project& project, const Plan& plan,
                       const std::map<std::string, std::string>& log_hash,
                       const std::string& printed_on) {
  Document d;
  const std::vector<std::string> labels = cells_to_claim(plan);
  d.title =
      fmt::format("{} cell{} below what was ordered", labels.size(), labels.size() == 1 ? "" : "s");
  d.subtitle = "Test sheets for the seller";
  d.foot = project.about.name() + (printed_on.empty() ? "" : " · printed " + printed_on);
  d.cover_lines = {
      fmt::format("Of {} cells, {} fall{} short of a limit: {}.", plan.cells.size(), labels.size(),
                  labels.size() == 1 ? "s" : "", joined(labels)),
      "Each sheet says what was ordered, how the cell was tested, what was found and how sure it "
      "is. The logs, byte for byte, lie beside, each with its SHA-256."};
  const project::Offer* ordered = nullptr;
  for (const works::OfferResult& o : plan.offers)
    if (o.offer.chosen) ordered = &o.offer;
  std::map<std::string, const project::Cell*> readings;
  for (const project::Cell& c : project.cells) readings[c.label] = &c;
  for (const std::string& label : labels) {
    const auto found = std::find_if(plan.cells.begin(), plan.cells.end(),
                                    [&](const CellResult& c) { return c.label == label; });
    if (found == plan.cells.end()) continue;
    const CellResult& c = *found;
    Section s{"Cell " + label, {}, true};
    Table order{{{"", false, 1.4}, {"", false, 4.0}}, {}, true};
    order.rows.push_back(
        {"ordered", ordered ? fmt::format("{} × {:g} Ah, “{}”", ordered->quantity,
                                          ordered->rated_capacity_Ah, ordered->name)
                            : fmt::format("cells rated {:g} Ah",
                                          project.cell.rated_capacity.in(base::units::Ah))});
    if (!c.lot.empty()) order.rows.push_back({"lot", c.lot});
    if (const project::Cell* r = readings[label]; r != nullptr) {
      std::string text;
      const auto add = [&](const std::optional<double>& x, std::string_view what,
                           std::string_view unit) {
        if (x) text += fmt::format("{}{} {:g} {}", text.empty() ? "" : ", ", what, *x, unit);
      };
      add(r->voltage_V, "arrived at", "V");
      add(r->ac_resistance_mOhm, "1 kHz resistance", "mΩ");
      add(r->mass_kg, "mass", "kg");
      add(r->thickness_mm, "thickness", "mm");
      if (!text.empty()) order.rows.push_back({"at receipt", text});
      if (!r->note.empty()) order.rows.push_back({"note", r->note});
    }
    order.rows.push_back({"method", conditions_text(c) +
                                        "; charge by integrating the logged current over the log's "
                                        "own time stamps"});
    if (!c.left_out.empty()) order.rows.push_back({"rows not used", c.left_out});
    if (const auto hash = log_hash.find(label); hash != log_hash.end())
      order.rows.push_back({"log", c.log + ", SHA-256 " + hash->second});
    s.blocks.emplace_back(std::move(order));
    s.blocks.emplace_back(Heading{"What was found"});
    Table found_table{{{"quantity", false, 1.6},
                       {"found", true, 1.4},
                       {"standard uncertainty", true, 1.4},
                       {"limit", true, 1.2},
                       {"chance that it conforms", true, 1.4},
                       {"verdict", false, 1.0}},
                      {},
                      true};
    for (const works::LotResult& r : plan.lot)
      for (std::size_t k = 0; k < r.judgements.size(); ++k)
        if (r.quantity.labels[k] == label) {
          const bench::Measure& m = r.quantity.values[k];
          const double p = r.judgements[k].probability_conforming;
          found_table.rows.push_back(
              {r.quantity.label, fmt::format("{} {}", shown(m.value, m.u), r.quantity.unit),
               base::significant(m.u, 2),
               fmt::format("{} {:g} {}", r.limit->side == bench::LimitSide::lower ? "≥" : "≤",
                           r.limit->value, r.quantity.unit),
               p < 0.001 ? "below 0.1 %" : fmt::format("{:.1f} %", 100.0 * p),
               std::string(bench::name(r.judgements[k].verdict))});
        }
    s.blocks.emplace_back(std::move(found_table));
    if (c.reference_capacity_Ah)
      s.blocks.emplace_back(Paragraph{
          fmt::format("Brought to {:g} °C and {:g} of the capacity an hour, to {:g} V: {}.",
                      project.test.reference.in_C(), project.test.reference_rate(),
                      project.cell.min.in(base::units::V), base::show(*c.reference_capacity_Ah))});
    if (c.curve.size() > 1)
      s.blocks.emplace_back(
          Plate{{draw_one_curve(project, plan, c, 168.0, 62.0)},
                "Voltage against charge taken out; the quiet line is the lot's typical cell.",
                1});
    if (!c.budget.empty()) {
      s.blocks.emplace_back(Heading{"How sure the capacity is"});
      s.blocks.emplace_back(budget_table(c));
    }
    s.blocks.emplace_back(Paragraph{
        "Uncertainty after [JCGM100]; verdicts with a guard band after [JCGM106]: a cell is "
        "said to fall short only where the chance that it conforms is below the risk that was set.",
        false, true});
    d.sections.push_back(std::move(s));
  }
  return d;
}

}  // namespace book
