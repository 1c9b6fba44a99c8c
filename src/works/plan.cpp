// SPDX-License-Identifier: Apache-2.0
#include "works/plan.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "works/recall.hpp"
#include "works/steps.hpp"

namespace works {

namespace {

/// Settings of a file of another age that today's catalogue does not take.
void settings_of_another_age(const Project& project, Plan& plan) {
  for (const auto& [path, value] : project.unknown)
    plan.findings.push_back(
        {.id = findings::Id::setting_unknown,
         .severity = findings::Severity::caution,
         .what = fmt::format("The setting '{}' is kept, and not used.", path),
         .where = path,
         .measured = std::visit([](const auto& v) { return fmt::format("{}", v); }, value),
         .why = "This version does not know it: what it was set for does not happen.",
         .remedy = "Set what it meant among today's settings, then take it out.",
         .basis = "docs/howto/project.md"});
  for (const project::Row* row : project::catalogue()) {
    const std::optional<project::Value>& said = at(project, *row).said();
    const double* number = said ? std::get_if<double>(&*said) : nullptr;
    const std::string* text = said ? std::get_if<std::string>(&*said) : nullptr;
    const bool outside = number != nullptr && !(*number >= row->min && *number <= row->max);
    const bool no_choice = text != nullptr && row->kind == project::Row::Kind::choice &&
                           std::none_of(row->choices.begin(), row->choices.end(),
                                        [&](const project::Choice& c) { return c.code == *text; });
    if (!outside && !no_choice) continue;
    plan.findings.push_back(
        {.id = findings::Id::setting_out_of_range,
         .severity = findings::Severity::caution,
         .what = fmt::format(
             "The {} is not one that may be set: {} is used.", row->label,
             number != nullptr
                 ? fmt::format("{:g} {}", std::clamp(*number, row->min, row->max), row->unit)
                 : fmt::format("“{}”", row->usual())),
         .where = std::string(row->label),
         .measured = number != nullptr ? fmt::format("{:g} {}", *number, row->unit) : *text,
         .limit = number != nullptr ? fmt::format("{:g} to {:g} {}", row->min, row->max, row->unit)
                                    : std::string("one of its choices"),
         .why = "The file was written when other values were allowed.",
         .remedy = "Set it anew.",
         .basis = "docs/howto/project.md"});
  }
}

}  // namespace

Plan plan(const Project& project) {
  Recall nothing;
  return plan(project, nothing);
}

Plan plan(const Project& project, Recall& recall) {
  Plan plan;
  settings_of_another_age(project, plan);
  steps::receive(project, plan);
  steps::test_cells(project, plan, recall);
  steps::spread_of_lot(project, plan);
  steps::queue_tests(project, plan);
  steps::match_cells(project, plan, recall);
  steps::choose_and_size(project, plan);
  steps::worth_of_matching(project, plan);
  steps::house(project, plan);
  steps::cost_over_life(project, plan);
  steps::wire(project, plan);
  steps::commission(project, plan);
  steps::forecast_and_watch(project, plan);
  findings::sort_by_severity(plan.findings);
  plan.book = {
      .name = "book",
      .question = "What stays with the bank?",
      .sentence = fmt::format("{} cells, {} settings and {} findings go into the book.",
                              plan.cells.size(), plan.settings.size(), plan.findings.size()),
      .figures = {}};
  return plan;
}

const Named* find_figure(const Plan& plan, std::string_view path) {
  for (const Step* step : plan.steps())
    for (const Named& named : step->figures)
      if (path == step->name + "." + named.key) return &named;
  return nullptr;
}

}  // namespace works
