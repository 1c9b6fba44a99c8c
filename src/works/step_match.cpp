// SPDX-License-Identifier: Apache-2.0
// Match: which cell goes where, and what the bank then is.
#include <algorithm>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "bench/reference.hpp"
#include "match/rules.hpp"
#include "match/what_if.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"
#include "works/what_if.hpp"

namespace works::steps {
namespace {

namespace units = base::units;
using findings::Finding;
using findings::Severity;

/// What a cell gives at the bank's design current and temperature, down to the lower limit: its own
/// measured capacity, less what its resistance costs before the cut-off.
std::optional<base::Figure> effective_capacity(const Project& project, const CellResult& c) {
  if (!c.capacity_Ah || !c.conditions) return std::nullopt;
  const layout::Layout shape = layout_of(project);
  const double bank_V = shape.series * project.cell.nominal.in(units::V);
  const double cell_A = project.bus.power.in(units::W) / bank_V / shape.packs / shape.parallel;
  const double Ah = c.capacity_Ah->value;
  const auto effective = bench::to_reference(
      {.capacity_Ah = Ah,
       .u_Ah = c.capacity_Ah->u.value_or(0.0),
       .current_A = c.conditions->current_A,
       .end_V = c.conditions->end_V,
       .temperature_C = c.temperature_C ? std::optional(c.temperature_C->value) : std::nullopt,
       .temperature_halfwidth_K = 0.0,
       .resistance_mOhm =
           c.resistance_mOhm ? std::optional(c.resistance_mOhm->value) : std::nullopt},
      {.temperature_C = project.match.design.in_C(),
       .rate_per_h = cell_A / Ah,
       .cut_off_V = project.cell.min.in(units::V)});
  if (!effective) return std::nullopt;
  return base::Figure{.value = effective->capacity_Ah.value,
                      .u = effective->capacity_Ah.u,
                      .unit = "Ah",
                      .basis = fmt::format(
                          "at {:.0f} A and {:g} °C: {:+.2f} Ah for current and cut-off, {:+.2f} Ah "
                          "for the temperature",
                          cell_A, project.match.design.in_C(), effective->from_end_Ah,
                          effective->from_temperature_Ah)};
}

std::vector<match::Candidate> candidates(const Plan& plan, bool with_set_aside) {
  std::vector<match::Candidate> list;
  for (const CellResult& c : plan.cells) {
    if (!c.capacity_Ah || c.capacity_Ah->value <= 0.0) continue;
    if (c.place == "set aside" && !with_set_aside) continue;
    list.push_back(candidate_of(c));
  }
  return list;
}

CellResult* find_cell(Plan& plan, const std::string& label) {
  for (CellResult& c : plan.cells)
    if (c.label == label) return &c;
  return nullptr;
}

/// The builder's rules, in terms of the list; what names no cell or place is a finding.
match::Rules rules_of(const Project& project, const std::vector<match::Candidate>& list,
                      Plan& plan) {
  match::Rules rules;
  const auto index_of = [&](std::string_view label) -> std::optional<std::size_t> {
    for (std::size_t i = 0; i < list.size(); ++i)
      if (list[i].label == label) return i;
    return std::nullopt;
  };
  const auto unknown = [&](std::string_view what, std::string_view key) {
    plan.findings.push_back({.id = findings::Id::rule_names_nothing,
                             .severity = Severity::caution,
                             .what = fmt::format("'{}' names no tested cell or no place.", what),
                             .where = fmt::format("[match] {}", key),
                             .why = "The rule is left aside.",
                             .remedy = "Write for example \"C01@A-03, C02@B\" or \"C05, C09\"."});
  };
  const std::string fixed = project.match.fixed();
  for (const std::string_view word : base::listed(fixed)) {
    if (word.empty()) continue;
    const std::size_t at = std::min(word.find('@'), word.size());
    const auto cell = index_of(base::trimmed(word.substr(0, at)));
    const auto place =
        layout::place_named(base::trimmed(word.substr(std::min(at + 1, word.size()))));
    if (cell && place)
      rules.fixed.push_back({*cell, place->pack, place->group.value_or(-1)});
    else
      unknown(word, "fixed");
  }
  // By hand: every cell that still stands in the list and is not fixed elsewhere keeps its place.
  const std::string by_hand = project.match.places();
  const std::string out = project.match.kept_out();
  const std::vector<std::string_view> left_out = base::listed(out);
  for (const std::string_view word : base::listed(by_hand)) {
    if (word.empty()) continue;
    const std::size_t at = std::min(word.find('@'), word.size());
    const std::string_view label = base::trimmed(word.substr(0, at));
    const auto cell = index_of(label);
    const auto place =
        layout::place_named(base::trimmed(word.substr(std::min(at + 1, word.size()))));
    if (!place) {
      unknown(word, "places");
      continue;
    }
    const bool elsewhere =
        cell && std::any_of(rules.fixed.begin(), rules.fixed.end(),
                            [&](const match::Fixed& f) { return f.cell == *cell; });
    const bool kept_out = std::find(left_out.begin(), left_out.end(), label) != left_out.end();
    const layout::Layout shape = layout_of(project);
    const int group = place->group.value_or(-1);
    const auto there = std::count_if(
        rules.fixed.begin(), rules.fixed.end(),
        [&](const match::Fixed& f) { return f.pack == place->pack && f.group == group; });
    if (!cell || elsewhere || kept_out || place->pack >= shape.packs || group >= shape.series ||
        there >= (group < 0 ? shape.series * shape.parallel : shape.parallel))
      continue;
    rules.fixed.push_back({*cell, place->pack, group});
  }
  const std::string kept_out = project.match.kept_out();
  for (const std::string_view word : base::listed(kept_out)) {
    if (word.empty()) continue;
    if (const auto cell = index_of(word))
      rules.kept_out.push_back(*cell);
    else
      unknown(word, "kept_out");
  }
  const std::string place_least = project.match.place_least_Ah();
  for (const std::string_view word : base::listed(place_least)) {
    if (word.empty()) continue;
    const std::size_t gap = std::min(word.find(' '), word.size());
    const auto place = layout::place_named(word.substr(0, gap));
    const auto least = base::parse_number(base::trimmed(word.substr(gap)));
    if (place && least && *least > 0.0)
      rules.place_least.push_back({place->pack, place->group.value_or(-1), *least * units::Ah});
    else
      unknown(word, "place_least_Ah");
  }
  rules.least_capacity = project.match.least_capacity.in(units::Ah).value_or(0.0) * units::Ah;
  rules.spares = static_cast<std::size_t>(project.match.spares());
  rules.spare_capacity = project.match.spare_capacity.in(units::Ah).value_or(0.0) * units::Ah;
  const project::LotRule lots = project.match.lots();
  rules.lots = lots == project::LotRule::together_in_pack ? match::Lots::together_in_pack
               : lots == project::LotRule::apart_in_group ? match::Lots::apart_in_group
                                                          : match::Lots::free;
  const project::LotMeaning lot_is = project.match.lot_is();
  for (const match::Candidate& c : list) {
    const CellResult* cell = find_cell(plan, c.label);
    rules.lot_of.push_back(lot_is == project::LotMeaning::test_channel ? cell->channel
                           : lot_is == project::LotMeaning::date_made  ? cell->made
                                                                       : cell->lot);
  }
  return rules;
}

/// What comes after the first aim, in the builder's order; what nothing was measured for is left
/// out, and a missing reading is no small one.
std::vector<match::LaterAim> later_aims(const Project& project,
                                        const std::vector<match::Candidate>& list, Plan& plan) {
  using Kind = match::LaterAim::Kind;
  struct Known {
    std::string_view word;
    double may_cost_percent;
    Kind kind;
    bool counts;
  };
  const Known known[] = {
      {"resistance", project.match.resistance_may_cost_percent(), Kind::even_resistance,
       project.layout.parallel() > 1},
      {"leak", project.match.leak_may_cost_percent(), Kind::even_leak,
       std::any_of(list.begin(), list.end(), [](const auto& c) { return c.leak_mA > 0.0; })},
      {"charge-top", project.match.charge_top_may_cost_percent(), Kind::even_charge_top,
       std::all_of(list.begin(), list.end(), [](const auto& c) { return c.tail_share > 0.0; })}};
  std::vector<match::LaterAim> later;
  const std::string text = project.match.later_aims();
  for (const std::string_view word : base::listed(text)) {
    if (word.empty()) continue;
    const auto* found = std::find_if(std::begin(known), std::end(known),
                                     [&](const Known& k) { return k.word == word; });
    if (found == std::end(known)) {
      plan.findings.push_back({.id = findings::Id::aim_not_known,
                               .severity = Severity::caution,
                               .what = fmt::format("'{}' is no aim that Packhouse knows.", word),
                               .where = "[match] later_aims",
                               .why = "It is left aside.",
                               .remedy = "Write some of: resistance, leak, charge-top."});
      continue;
    }
    if (found->counts) later.push_back({found->kind, found->may_cost_percent / 100.0});
  }
  return later;
}

void write_places(const layout::Layout& shape, Plan& plan) {
  const Arrangement& a = *plan.arrangement;
  for (std::size_t pack = 0; pack < a.assignment.packs.size(); ++pack)
    for (std::size_t group = 0; group < a.assignment.packs[pack].groups.size(); ++group) {
      const auto& members = a.assignment.packs[pack].groups[group].cells;
      for (std::size_t m = 0; m < members.size(); ++m)
        find_cell(plan, a.labels[members[m]])->place = layout::place_name(
            static_cast<int>(pack), static_cast<int>(group), static_cast<int>(m), shape.parallel);
    }
  for (const std::size_t spare : a.assignment.spares)
    find_cell(plan, a.labels[spare])->place = "spare";
}

}  // namespace

base::Figure cell_capacity(const Project& project, const Plan& plan) {
  if (!plan.arrangement)
    return {.value = project.cell.rated_capacity.in(units::Ah),
            .unit = "Ah",
            .basis = "rated; no cell has been matched"};
  const match::Assignment& a = plan.arrangement->assignment;
  double u = 0.0, n = 0.0;
  for (const CellResult& c : plan.cells)
    if (c.capacity_Ah && c.capacity_Ah->u) u += *c.capacity_Ah->u, n += 1.0;
  const int parallel = project.layout.parallel();
  const double value = a.bank_capacity.in(units::Ah) / double(a.packs.size()) / parallel;
  return {.value = value,
          .u = n > 0.0 ? std::optional(u / n) : std::nullopt,
          .unit = "Ah",
          .basis = "mean over the packs of their smallest group, for one cell"};
}

base::Figure cell_resistance(const Project& project, const Plan& plan) {
  std::vector<double> values;
  for (const CellResult& c : plan.cells)
    if (c.resistance_mOhm && c.place != "set aside") values.push_back(c.resistance_mOhm->value);
  if (values.empty())
    return {.value = project.cell.dc_resistance.in(units::mOhm),
            .unit = "mΩ",
            .basis = "the cell's sheet"};
  return {.value = base::median(values),
          .unit = "mΩ",
          .basis = fmt::format("median of {} tested cells", values.size())};
}

namespace {
/// All that decides a search: cells as they count, with the lots they are of, and the rules.
std::string search_key(const Project& project, const std::vector<match::Candidate>& list,
                       const match::Rules& rules) {
  std::string key = said_in(project, {"layout", "match"});
  for (std::size_t i = 0; i < list.size(); ++i)
    key += fmt::format("{}:{} {:a} {:a} {:a} {:a} {}\n", list[i].label.size(), list[i].label,
                       list[i].capacity.si(), list[i].resistance_mOhm, list[i].leak_mA,
                       list[i].tail_share, rules.lot_of[i]);
  return key;
}
}  // namespace

void match_cells(const Project& project, Plan& plan, Recall& recall) {
  const layout::Layout shape = layout_of(project);
  Step& step = plan.match;
  step = {.name = "match", .question = "Which cell goes where?", .sentence = "", .figures = {}};
  const auto needed = static_cast<std::size_t>(shape.places());
  for (CellResult& c : plan.cells) c.effective_capacity_Ah = effective_capacity(project, c);
  auto list = candidates(plan, false);
  const std::size_t without = list.size();
  if (list.size() < needed) {
    list = candidates(plan, true);
    if (list.size() >= needed && without < needed)
      plan.findings.push_back(
          {.id = findings::Id::set_aside_cells_used,
           .severity = Severity::caution,
           .what =
               fmt::format("Only {} sound cells for {} places: cells set aside are used after all.",
                           without, needed),
           .where = "match",
           .measured = fmt::format("{} cells", without),
           .limit = fmt::format("{} places", needed),
           .why = "They were set aside for a reason.",
           .remedy = "Order spares, or build fewer packs."});
  }
  const int rows = project.layout.rows();
  const cell::Datasheet sheet = datasheet(project);
  const int usual = layout::usual_rows(shape.series, shape.parallel);
  plan.box = layout::lay_out_box(shape.series, shape.parallel,
                                 rows > 0 && shape.series % rows == 0 ? rows : usual, *sheet.width,
                                 *sheet.thickness);
  if (list.size() < needed) {
    step.sentence =
        fmt::format("{} places and {} tested cells: test more cells, then they can be placed.",
                    needed, list.size());
    plan.findings.push_back(
        {.id = findings::Id::too_few_cells,
         .severity = list.empty() ? Severity::note : Severity::stop,
         .what = fmt::format("{} tested cells for {} places.", list.size(), needed),
         .where = "match",
         .measured = fmt::format("{} cells", list.size()),
         .limit = fmt::format("{} places", needed),
         .why = "No arrangement fills the bank.",
         .remedy = "Test the remaining cells, order more, or choose a smaller layout."});
    return;
  }
  const match::Aim aim = project.layout.aim() == project::Aim::even_packs ? match::Aim::even_packs
                                                                          : match::Aim::most_energy;
  const match::Rules rules = rules_of(project, list, plan);
  const std::string key = search_key(project, list, rules);
  std::variant<match::Assignment, match::Conflict> assigned;
  if (recall.search && recall.search_key == key)
    assigned = *recall.search;
  else
    assigned =
        match::assign_under_rules(list, {shape.packs, shape.series, shape.parallel}, aim, rules);
  if (const auto* found = std::get_if<match::Assignment>(&assigned))
    recall.search_key = key, recall.search = *found;
  if (const auto* conflict = std::get_if<match::Conflict>(&assigned)) {
    std::string why;
    for (const std::string& sentence : conflict->sentences)
      why += (why.empty() ? "" : " ") + sentence;
    step.sentence =
        (conflict->certain ? "Your rules cannot all hold, so nothing is placed: "
                           : "No way was found to keep all your rules, so nothing is placed: ") +
        why;
    plan.findings.push_back({.id = findings::Id::rules_conflict,
                             .severity = Severity::stop,
                             .what = "The rules for placing cells were not all kept: " + why,
                             .where = "[match]",
                             .why = conflict->certain
                                        ? "No arrangement keeps them."
                                        : "None was found that keeps them; that is no "
                                          "proof that there is none.",
                             .remedy = "Loosen one of them."});
    return;
  }
  const std::vector<match::LaterAim> later = later_aims(project, list, plan);
  match::Assignment placed = std::get<match::Assignment>(std::move(assigned));
  const std::vector<std::size_t> locked = match::held_by_rules(placed, rules);
  if (rules.lots == match::Lots::free)
    placed = match::refine(std::move(placed), list, later, locked);
  Arrangement arrangement{
      match::cool_ones_to_warm_places(std::move(placed), list,
                                      layout::places_from_row_end(*plan.box), locked),
      {}};
  for (const match::Candidate& c : list) arrangement.labels.push_back(c.label);
  plan.arrangement = std::move(arrangement);
  write_places(shape, plan);

  const match::Assignment& a = plan.arrangement->assignment;
  std::size_t undecided = 0, short_placed = 0;
  for (const CellResult& c : plan.cells) {
    const bool placed = c.place != "spare" && c.place != "set aside" && !c.place.empty();
    if (!placed || !c.judgement) continue;
    undecided += c.judgement->verdict == bench::Verdict::undecided;
    short_placed += c.judgement->verdict == bench::Verdict::reject;
  }
  std::string which = fmt::format("{} cells placed", needed);
  if (undecided > 0) which += fmt::format(", {} of them undecided", undecided);
  if (short_placed > 0)
    which += fmt::format("{} {} that fall{} short", undecided > 0 ? " and" : ",", short_placed,
                         short_placed == 1 ? "s" : "");
  step.sentence =
      which + fmt::format("; {} kept as spares. ", a.spares.size()) +
      (a.proven_optimal ? "No other arrangement holds more; that is proven."
                        : fmt::format("No arrangement can hold more than {:.2f} % above this one.",
                                      a.gap * 100.0));
  const base::Figure one = cell_capacity(project, plan);
  const std::optional<double> u = one.u ? std::optional(*one.u * shape.parallel) : std::nullopt;
  const auto add = [&](std::string key, std::string label, double value,
                       std::optional<double> uncertainty, std::string unit) {
    step.figures.push_back({std::move(key),
                            std::move(label),
                            {.value = value,
                             .u = uncertainty,
                             .unit = std::move(unit),
                             .basis = "matching: " + a.method}});
  };
  add("bank_capacity_Ah", "capacity of the bank", a.bank_capacity.in(units::Ah),
      u ? std::optional(*u * shape.packs) : std::nullopt, "Ah");
  add("smallest_pack_Ah", "smallest pack", a.smallest_pack.in(units::Ah), u, "Ah");
  add("upper_bound_Ah", "no arrangement can exceed", a.upper_bound.in(units::Ah), {}, "Ah");
  add("gap_percent", "gap to that bound", a.gap * 100.0, {}, "%");
  const match::Shape counts{shape.packs, shape.series, shape.parallel};
  const match::Alternatives others = match::alternatives(list, counts);
  const auto other = [&](std::string key, std::string label, double value, std::string basis) {
    step.figures.push_back({std::move(key),
                            std::move(label),
                            {.value = value, .unit = "Ah", .basis = std::move(basis)}});
  };
  other("random_bank_Ah", "a bank of cells picked at random", others.random_mean_Ah,
        fmt::format("mean of {} random arrangements; nine in ten hold {:.1f} to {:.1f} Ah",
                    others.draws, others.random_low_Ah, others.random_high_Ah));
  other("sorted_bank_Ah", "a bank of cells merely sorted", others.sorted_Ah,
        "neighbours into groups, groups in order into packs");
  std::vector<double> u_Ah;
  bool known = false;
  for (const match::Candidate& c : list) {
    const CellResult* cell = find_cell(plan, c.label);
    u_Ah.push_back(cell->capacity_Ah->u.value_or(0.0));
    known = known || u_Ah.back() > 0.0;
  }
  if (known) {
    const match::Robustness r = match::robustness(a, list, u_Ah, counts);
    step.figures.push_back(
        {"expected_bank_Ah",
         "expected, over what the tests leave open",
         {.value = r.expected_Ah,
          .u = r.sd_Ah,
          .unit = "Ah",
          .basis = "400 draws of the true capacities around the measured ones"}});
    step.figures.push_back(
        {"near_best",
         "chance to be within 0.1 % of the best that the true capacities allow",
         {.value = r.near_best,
          .unit = "",
          .basis = shape.parallel == 1 ? "the same draws"
                                       : "the same draws; at least, against a bound"}});
    if (r.near_best > 0.95)
      step.sentence += " Testing more would hardly change it.";
    else if (r.retest_share > 0.02)
      step.sentence +=
          fmt::format(" The cell whose second test would tell most is {}.", list[r.retest].label);
  }
}

void worth_of_matching(const Project& project, Plan& plan) {
  const Named* bank = find_figure(plan, "match.bank_capacity_Ah");
  const Named* random = find_figure(plan, "match.random_bank_Ah");
  if (bank == nullptr || random == nullptr) return;
  const double gain_Ah = bank->figure.value - random->figure.value;
  const double volts = project.layout.series() * project.cell.nominal.in(units::V);
  const double gain_kWh = gain_Ah * volts / 1000.0;
  const double share = gain_Ah / random->figure.value;
  plan.match.figures.push_back({"gain_kWh",
                                "what matching gains over cells picked at random",
                                {.value = gain_kWh,
                                 .unit = "kWh",
                                 .basis = "difference of the banks at the nominal voltage"}});
  std::string money;
  for (const OfferResult& o : plan.offers) {
    if (!o.offer.chosen) continue;
    const std::string currency = project.about.currency();
    const double value = gain_kWh * o.per_kWh.value;
    plan.match.figures.push_back(
        {"gain_money",
         "what that much store costs",
         {.value = value,
          .unit = currency,
          .basis = "at the chosen offer's landed price of a good kilowatt-hour"}});
    money = fmt::format(", worth {:.0f} {}", value, currency);
  }
  plan.match.sentence +=
      fmt::format(" Over cells picked at random it gains {:.2f} kWh, {:.1f} %{}.", gain_kWh,
                  share * 100.0, money);
  if (share < 0.005)
    plan.findings.push_back(
        {.id = findings::Id::matching_gains_little,
         .severity = Severity::note,
         .what = "These cells are so alike that matching them hardly matters.",
         .where = "match",
         .measured = fmt::format("{:.2f} % over cells picked at random", share * 100.0),
         .limit = "0.5 %",
         .why = "The effort is better spent on joints and on the top balance.",
         .remedy = "Take the arrangement all the same: it costs nothing.",
         .basis = "common practice, no source"});
}

}  // namespace works::steps
