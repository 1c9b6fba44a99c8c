// SPDX-License-Identifier: Apache-2.0
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
#include "store/csv_table.hpp"
#include "store/files.hpp"

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

/// What an exchange or leaving a cell out would do, where one was asked for.
std::optional<match::Effect> changed(const match::Assignment& a,
                                     const std::vector<match::Candidate>& cells, match::Shape shape,
                                     const MatchOptions& options) {
  if (!options.exchange.empty()) {
    const std::size_t comma = options.exchange.find(',');
    if (comma == std::string::npos)
      throw base::InputError({}, "--exchange " + options.exchange,
                             "two labels with a comma between",
                             "write for example --exchange C01,C07");
    const std::size_t x = index_of(cells, options.exchange.substr(0, comma), options.cells),
                      y = index_of(cells, options.exchange.substr(comma + 1), options.cells);
    return match::effect_of(a, match::with_exchange(a, cells, x, y), cells);
  }
  if (options.without.empty()) return std::nullopt;
  const std::size_t cell = index_of(cells, options.without, options.cells);
  if (a.spares.empty())
    throw base::InputError({options.cells, 0, 0},
                           fmt::format("no spare to stand in for '{}'", options.without),
                           fmt::format("more than {} cells", shape.places()),
                           "test another cell, or ask for fewer places");
  return match::effect_of(a, match::without(a, cells, cell), cells);
}

}  // namespace

int match(const MatchOptions& options) {
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
  std::vector<match::Candidate> cells;
  for (const works::Cell& c :
       store::read_candidates(store::read_file(options.cells), options.cells))
    cells.push_back({c.label, *c.capacity_Ah * units::Ah, c.resistance_mOhm.value_or(0.0),
                     c.leak_mA.value_or(0.0)});
  const match::Shape shape{options.packs, options.series, options.parallel};
  if (cells.size() < shape.places())
    throw base::InputError({options.cells, 0, 0},
                           fmt::format("{} cells for {} places", cells.size(), shape.places()),
                           fmt::format("at least {} cells for {} packs of {}S{}P", shape.places(),
                                       shape.packs, shape.series, shape.parallel),
                           "add tested cells, or ask for fewer packs or groups");
  const match::Assignment a = match::assign(
      cells, shape, options.aim == "even-packs" ? match::Aim::even_packs : match::Aim::most_energy);
  const std::optional<match::Effect> change = changed(a, cells, shape, options);
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
    if (change)
      json["change"] = {{"bank_change_Ah", change->bank_change_Ah},
                        {"smallest_pack_Ah", change->after.smallest_pack.in(units::Ah)},
                        {"weakest",
                         {{"pack", layout::pack_name(static_cast<int>(change->after.weakest_pack))},
                          {"group", change->after.weakest_group + 1}}},
                        {"resistance_spread", change->after.resistance_spread},
                        {"leak_spread_mA", change->after.leak_spread_mA}};
    json["findings"] = base::Json::array();
    fmt::print("{}\n", json.dump(2));
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
    fmt::print("{}\n",
               bold(wrap(fmt::format("With that change the bank holds {} Ah, {}{} Ah; "
                                     "smallest pack {} Ah, weakest group {}-{:02}.",
                                     base::fixed(change->after.bank.in(units::Ah), 3),
                                     change->bank_change_Ah < 0.0 ? "" : "+",
                                     base::fixed(change->bank_change_Ah, 3),
                                     base::fixed(change->after.smallest_pack.in(units::Ah), 3),
                                     layout::pack_name(int(change->after.weakest_pack)),
                                     change->after.weakest_group + 1),
                         80, 8)));
  return 0;
}

}  // namespace cli
