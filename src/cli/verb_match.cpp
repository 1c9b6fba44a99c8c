// SPDX-License-Identifier: Apache-2.0
#include <chrono>
#include <cstdio>
#include <functional>
#include <memory>
#include <optional>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "layout/layout.hpp"
#include "match/assignment_json.hpp"
#include "match/match.hpp"
#include "match/what_if.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "works/what_if.hpp"

namespace cli {
namespace {

namespace units = base::units;

std::size_t index_of(const std::vector<match::Candidate>& cells, std::string_view label,
                     const std::string& file) {
  for (std::size_t i = 0; i < cells.size(); ++i)
    if (cells[i].label == label) return i;
  throw base::InputError({file, 0, 0}, fmt::format("no cell '{}'", label), "a label of the file",
                         "spell it as it stands in the file");
}

using Years = std::function<double(const match::Standing&)>;

/// What an exchange, leaving a cell out or another layout would do, where one was asked for.
std::optional<match::Effect> changed(const match::Assignment& a,
                                     const std::vector<match::Candidate>& cells, match::Shape shape,
                                     const Years& years, const MatchOptions& options) {
  if (!options.exchange.empty()) {
    const std::size_t comma = options.exchange.find(',');
    if (comma == std::string::npos)
      throw base::InputError({}, "--exchange " + options.exchange,
                             "two labels with a comma between",
                             "write for example --exchange C01,C07");
    const std::size_t x = index_of(cells, options.exchange.substr(0, comma), options.cells),
                      y = index_of(cells, options.exchange.substr(comma + 1), options.cells);
    if (x == y)
      throw base::InputError({}, "--exchange " + options.exchange, "two cells",
                             "write for example --exchange C01,C07");
    return match::effect_of(a, match::with_exchange(a, cells, x, y), cells, years);
  }
  if (!options.layout.empty()) {
    match::Shape other;
    char rest = 0;
    if (std::sscanf(options.layout.c_str(), "%dx%dS%dP%c", &other.packs, &other.series,
                    &other.parallel, &rest) != 3 ||
        other.packs < 1 || other.series < 1 || other.parallel < 1 || other.packs > 1000 ||
        other.series > 1000 || other.parallel > 100)
      throw base::InputError({}, "--other-layout " + options.layout, "packs, series and parallel",
                             "write for example --other-layout 1x16S2P");
    // What a rule keeps out here stays out there too.
    std::vector<char> in(cells.size(), 0);
    for (const match::Pack& pack : a.packs)
      for (const match::Group& group : pack.groups)
        for (const std::size_t i : group.cells) in[i] = 1;
    for (const std::size_t i : a.spares) in[i] = 1;
    std::vector<std::size_t> kept_out;
    for (std::size_t i = 0; i < in.size(); ++i)
      if (in[i] == 0) kept_out.push_back(i);
    const auto there = match::in_layout(cells, other, a.aim, kept_out);
    if (!there)
      throw base::InputError(
          {}, "--other-layout " + options.layout,
          fmt::format("places for at most {} cells", cells.size() - kept_out.size()),
          "ask for fewer packs, groups or cells in parallel");
    return match::effect_of(a, *there, cells, years);
  }
  if (options.without.empty()) return std::nullopt;
  const std::size_t cell = index_of(cells, options.without, options.cells);
  if (a.spares.empty())
    throw base::InputError({options.cells, 0, 0},
                           fmt::format("no spare to stand in for '{}'", options.without),
                           fmt::format("more than {} cells", shape.places()),
                           "test another cell, or ask for fewer places");
  return match::effect_of(a, match::without(a, cells, cell), cells, years);
}

/// An assignment and what it was made from.
struct Placed {
  std::vector<match::Candidate> cells;
  match::Shape shape;
  match::Assignment assignment;
  std::unique_ptr<project::Project> project = {};  ///< that `years` reads
  Years years = {};
  std::vector<findings::Finding> findings = {};
};

Placed from_list(const MatchOptions& options) {
  const auto count = [](int n, std::string_view what, int most) {
    if (n < 1 || n > most)
      throw base::InputError(
          {}, fmt::format("--{} {}", what, n), fmt::format("a whole number from 1 to {}", most),
          fmt::format("say how many {}",
                      what == "packs" ? "packs there are" : "cells or groups there are"));
  };
  count(options.packs, "packs", 1000);
  count(options.series, "series", 1000);
  count(options.parallel, "parallel", 100);
  Placed placed;
  for (const project::Cell& c :
       store::read_candidates(store::read_file(options.cells), options.cells))
    placed.cells.push_back({c.label, *c.capacity_Ah * units::Ah, c.resistance_mOhm.value_or(0.0),
                            c.leak_mA.value_or(0.0)});
  const match::Shape shape = placed.shape = {options.packs, options.series, options.parallel};
  if (placed.cells.size() < shape.places())
    throw base::InputError(
        {options.cells, 0, 0},
        fmt::format("{} cells for {} places", placed.cells.size(), shape.places()),
        fmt::format("at least {} cells for {} packs of {}S{}P", shape.places(), shape.packs,
                    shape.series, shape.parallel),
        "add tested cells, or ask for fewer packs or groups");
  match::Effort effort;
  Progress progress("Placing cells");
  const auto started = std::chrono::steady_clock::now();
  effort.go_on = [&](double share) {
    progress.at(share);
    return options.seconds <= 0.0 ||
           std::chrono::duration<double>(std::chrono::steady_clock::now() - started).count() <
               options.seconds;
  };
  placed.assignment = match::assign(
      placed.cells, shape,
      options.aim == "even-packs" ? match::Aim::even_packs : match::Aim::most_energy, effort);
  return placed;
}

Placed from_project(const MatchOptions& options) {
  if (options.packs > 0 || options.series > 0)
    throw base::InputError({}, "--packs or --series with a project file",
                           "the project's own layout",
                           "leave them out, or ask with --other-layout");
  auto kept = std::make_unique<project::Project>(store::read_project(options.cells));
  const project::Project& project = *kept;
  const works::Plan plan = works::plan(project);
  if (!plan.arrangement)
    throw base::InputError({options.cells, 0, 0}, plan.match.sentence,
                           "enough tested cells, and rules that can hold",
                           "see the findings: packhouse check FILE");
  const layout::Layout shape = project::layout_of(project);
  Placed placed{works::placed_candidates(plan), {shape.packs, shape.series, shape.parallel},
                plan.arrangement->assignment,   std::move(kept),
                works::years_of(project, plan), {}};
  for (const findings::Finding& f : plan.findings)
    if (f.where == "match" || f.where.rfind("[match]", 0) == 0) placed.findings.push_back(f);
  return placed;
}

}  // namespace

int match(const MatchOptions& options) {
  const bool listed = options.packs > 0 || options.series > 0 || !store::is_database(options.cells);
  const Placed placed = listed ? from_list(options) : from_project(options);
  const std::vector<match::Candidate>& cells = placed.cells;
  const match::Shape shape = placed.shape;
  const match::Assignment& a = placed.assignment;
  const std::optional<match::Effect> change = changed(a, cells, shape, placed.years, options);
  if (options.json) {
    std::vector<std::string> labels;
    for (const match::Candidate& c : cells) labels.push_back(c.label);
    base::Json json = match::to_json(a, labels);
    json["stopped"] = a.stopped;
    const match::Standing s = match::standing_of(a, cells);
    const match::Alternatives others = match::alternatives(cells, shape);
    json["weakest"] = {{"pack", layout::pack_name(static_cast<int>(s.weakest_pack))},
                       {"group", s.weakest_group + 1}};
    json["resistance_spread"] = s.resistance_spread;
    json["leak_spread_mA"] = s.leak_spread_mA;
    json["random_Ah"] = {{"mean", others.random_mean_Ah},
                         {"low", others.random_low_Ah},
                         {"high", others.random_high_Ah},
                         {"draws", others.draws}};
    json["sorted_Ah"] = others.sorted_Ah;
    if (change) json["change"] = works::to_json(*change, static_cast<bool>(placed.years));
    json["findings"] = findings::to_json(placed.findings);
    print_json(json);
    return 0;
  }
  fmt::print(
      "{}\n\n",
      bold(wrap(
          a.proven_optimal
              ? fmt::format("{} cells placed; no other arrangement is better, and that is proven.",
                            shape.places())
              : fmt::format("{} cells placed; no arrangement can be more than {:.4f} % better.",
                            shape.places(), a.gap * 100.0))));
  for (std::size_t k = 0; k < a.packs.size(); ++k) {
    std::vector<std::vector<std::string>> rows;
    for (std::size_t g = 0; g < a.packs[k].groups.size(); ++g) {
      std::string labels;
      for (const std::size_t i : a.packs[k].groups[g].cells)
        labels += (labels.empty() ? "" : "  ") + cells[i].label;
      rows.push_back({std::to_string(g + 1),
                      base::fixed(a.packs[k].groups[g].capacity.in(units::Ah), 3), labels});
    }
    fmt::print("{}\n{}\n",
               bold(fmt::format("Pack {}: {} Ah", layout::pack_name(static_cast<int>(k)),
                                base::fixed(a.packs[k].capacity.in(units::Ah), 3))),
               table({{"group", true}, {"Ah", true}, {"cells"}}, rows));
  }
  std::string spares;
  for (const std::size_t i : a.spares) spares += (spares.empty() ? "" : ", ") + cells[i].label;
  fmt::print("{}\n", wrap("Spares: " + (spares.empty() ? "none" : spares), 80, 8));
  fmt::print("Bank {} Ah, smallest pack {} Ah; bound {} Ah, gap {:.5f} %\n",
             base::fixed(a.bank_capacity.in(units::Ah), 3),
             base::fixed(a.smallest_pack.in(units::Ah), 3),
             base::fixed(a.upper_bound.in(units::Ah), 3), a.gap * 100.0);
  const match::Alternatives others = match::alternatives(cells, shape);
  fmt::print("{}\n",
             wrap(fmt::format(
                      "Picked at random {} Ah ({} to {} Ah nine times in ten), merely sorted {} Ah",
                      base::fixed(others.random_mean_Ah, 3), base::fixed(others.random_low_Ah, 3),
                      base::fixed(others.random_high_Ah, 3), base::fixed(others.sorted_Ah, 3)),
                  80, 8));
  fmt::print("{}\n", wrap("Method: " + a.method, 80, 8));
  if (change)
    fmt::print(
        "{}\n",
        bold(wrap(
            fmt::format("With that change the bank holds {} Ah, {}{} Ah, and {:+.3f} % in energy; "
                        "smallest pack {} Ah, weakest group {}-{:02}.",
                        base::fixed(change->after.bank.in(units::Ah), 3),
                        change->bank_change_Ah < 0.0 ? "" : "+",
                        base::fixed(change->bank_change_Ah, 3), change->energy_change * 100.0,
                        base::fixed(change->after.smallest_pack.in(units::Ah), 3),
                        layout::pack_name(int(change->after.weakest_pack)),
                        change->after.weakest_group + 1),
            80, 8)));
  if (change && placed.years) {
    const auto years = [](double y) {
      return y < works::furthest_years ? fmt::format("{:.2f}", y)
                                       : fmt::format("more than {:g}", works::furthest_years);
    };
    fmt::print("{}\n",
               wrap(fmt::format("Years until it holds too little: {} instead of {} (the mean "
                                "of two ageing laws, extrapolated; read the difference).",
                                years(change->years_after), years(change->years_before)),
                    80, 8));
  }
  if (a.stopped) fmt::print("Stopped after {:g} s: more time may find better.\n", options.seconds);
  return 0;
}

}  // namespace cli
