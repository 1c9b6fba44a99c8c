// SPDX-License-Identifier: Apache-2.0
#include "works/plan.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "works/recall.hpp"
#include "works/steps.hpp"

namespace works {

Plan plan(const Project& project) {
  Recall nothing;
  return plan(project, nothing);
}

Plan plan(const Project& project, Recall& recall) {
  Plan plan;
  std::size_t told = 0;
  const auto noticed_at = [&](std::string_view step) {
    for (; told < plan.findings.size(); ++told)
      if (plan.findings[told].step.empty()) plan.findings[told].step = step;
  };
  steps::receive(project, plan);
  noticed_at("receive");
  steps::test_cells(project, plan, recall);
  steps::spread_of_lot(project, plan);
  steps::queue_tests(project, plan);
  noticed_at("test");
  steps::match_cells(project, plan, recall);
  noticed_at("match");
  steps::choose_and_size(project, plan);
  noticed_at("size");
  steps::worth_of_matching(project, plan);
  noticed_at("match");
  steps::house(project, plan);
  noticed_at("size");
  steps::cost_over_life(project, plan);
  noticed_at("choose");
  steps::wire(project, plan);
  noticed_at("wire");
  steps::commission(project, plan);
  noticed_at("commission");
  steps::forecast_and_watch(project, plan);
  noticed_at("forecast");
  base::sort_by_severity(plan.findings);
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
