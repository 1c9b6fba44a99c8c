// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "commission/checklists.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "works/plan.hpp"

namespace cli {
namespace {

using base::Json;
using works::HouseStudy;

using Rows = std::vector<std::vector<std::string>>;

std::string percent(double share) { return fmt::format("{:.1f}", 100.0 * share); }
std::string whole(double x) { return fmt::format("{:.0f}", x + 0.0); }

void print_year(const HouseStudy& s, const works::HouseAnswers& a, const std::string& currency) {
  fmt::print(
      "\n{}\n{}\n\n", bold("The first year"),
      wrap(fmt::format("Load: {}. Sun: {}. Prices: {}.", s.load_from, s.sun_from, s.price_from)));
  Rows year;
  for (const works::YearLine& line : works::year_lines(s, currency))
    year.push_back({line.what, line.without ? base::fixed(*line.without, line.decimals) : "",
                    base::fixed(line.with, line.decimals), line.unit});
  fmt::print("{}", table({{""}, {"without", true}, {"with", true}, {"unit"}}, year));
  const site::Bound& bound = a.foresight.bound;
  if (s.off_grid) {
    fmt::print("\n{}\n\n{}",
               bold(fmt::format("Without a grid, over {} years of weather", s.off_grid->years)),
               table({{""}, {"value", true}, {"unit"}},
                     {{"of the load, unserved", percent(s.off_grid->energy_share), "%"},
                      {"in the worst year", percent(s.off_grid->worst_share), "%"},
                      {"of the time, some of it unserved", percent(s.off_grid->time_share), "%"},
                      {"bank that loses no more than allowed",
                       fmt::format("{:.1f}", s.off_grid_kWh), "kWh"}}));
    return;
  }
  Rows rules;
  rules.push_back({"without a bank", whole(a.foresight.without), "", ""});
  for (const auto& [name, cost] : a.foresight.rules)
    rules.push_back(
        {name, whole(cost),
         bound.status == site::Bound::Status::optimal ? whole(100.0 * a.foresight.share(cost)) : "",
         name == site::name(s.rules.kind) ? "this one" : ""});
  fmt::print("\n{}\n\n{}", bold("By rule, in hourly means"),
             table({{"rule"}, {"costs", true}, {"of the best saving, %", true}, {""}}, rules));
  if (bound.status == site::Bound::Status::optimal)
    fmt::print("\n{}\n", wrap(fmt::format("Who had known the whole year would have paid {:.0f} {}.",
                                          bound.cost, currency)));
  else
    fmt::print("\n{}\n", wrap("The best year was not found: " + bound.words));
}

void print_sizes(const HouseStudy& s, const works::HouseAnswers& a, const std::string& currency) {
  Rows rows;
  const std::size_t step = std::max<std::size_t>(1, s.sizes.size() / 12);
  for (std::size_t i = 0; i < s.sizes.size(); i += step) {
    const site::SizePoint& p = s.sizes[i];
    const bool ours = i + step >= s.sizes.size()
                          ? p.nominal_kWh <= s.life.nominal_kWh
                          : p.nominal_kWh <= s.life.nominal_kWh &&
                                s.sizes[i + step].nominal_kWh > s.life.nominal_kWh;
    rows.push_back({fmt::format("{:g}", p.nominal_kWh), percent(p.outcome.self_sufficiency()),
                    whole(p.saving),
                    i + 1 < s.sizes.size() ? fmt::format("{:.2f}", p.next_kWh_saving) : "",
                    std::string(ours ? "this bank is here" : "")});
  }
  fmt::print("\n{}\n\n{}", bold("How large"),
             table({{"kWh", true},
                    {"not from grid, %", true},
                    {"saved a year", true},
                    {"next kWh saves", true},
                    {""}},
                   rows));
  if (s.priced)
    fmt::print(
        "\n{}\n",
        wrap(fmt::format("Cells cost {:.0f} {} a kilowatt-hour; the size that is worth most over "
                         "its cells is {:.0f} kWh.",
                         s.cells_per_kWh, currency, s.knee_kWh)));
  if (s.store.reserve_kWh > 0.0)
    fmt::print("\n{}\n", wrap(fmt::format("Every size keeps the same {:.1f} kWh for an outage, and "
                                          "draws the same standby.",
                                          s.store.reserve_kWh)));
  Rows panels;
  for (std::size_t k = 0; k < 5; ++k) {
    std::vector<std::string> row = {fmt::format("{:.1f}", a.panels[k].nominal_kWh)};
    for (std::size_t solar = 0; solar < 4; ++solar) {
      const works::SolarPoint& p = a.panels[solar * 5 + k];
      row.push_back(fmt::format("{} / {}", whole(100.0 * p.self_sufficiency), whole(p.saving)));
    }
    panels.push_back(std::move(row));
  }
  fmt::print(
      "\n{}\n{}\n\n{}", bold("Bank and panels"),
      quiet("Not from the grid, %, and what the bank saves a year; across: times the panels."),
      table({{"kWh", true}, {"half", true}, {"as now", true}, {"1.5", true}, {"twice", true}},
            panels));
}

void print_tariffs(const HouseStudy& s, const works::HouseAnswers& a) {
  if (a.tariffs.empty()) return;
  Rows rows;
  for (const works::TariffResult& t : a.tariffs)
    rows.push_back({t.name, whole(t.without), whole(t.rules[0].second), whole(t.rules[1].second),
                    whole(t.rules[2].second),
                    s.priced ? fmt::format("{:.0f}", t.best_kWh) : std::string()});
  fmt::print("\n{}\n{}\n\n{}", bold("Tariffs on offer"),
             quiet("What the first year costs, by rule; the size that is worth most by the best."),
             table({{"tariff"},
                    {"without", true},
                    {"self-use", true},
                    {"shift", true},
                    {"follow", true},
                    {"best, kWh", true}},
                   rows));
}

/// The share that pays is nothing without what was assumed for it.
void print_risks(const works::HouseAnswers& a) {
  Rows risks, assumed;
  for (const site::RiskTaken& r : a.bands.risks)
    risks.push_back({site::words(r.risk), percent(r.pays_alone), percent(r.pays_without),
                     whole(r.value_without - a.bands.value.middle)});
  for (const site::Assumption& x : a.bands.assumptions) assumed.push_back({x.what, x.value});
  fmt::print("\n{}\n{}\n\n{}", bold("What was assumed of the futures"),
             quiet("Spreads are judgement; the rule, its charge for peaks and the ageing are the "
                   "bank's own."),
             table({{"what"}, {"drawn"}}, assumed));
  fmt::print("\n{}\n\n{}", bold("What each risk takes"),
             table({{"risk"},
                    {"pay with it alone, %", true},
                    {"pay with all but it, %", true},
                    {"it takes of the middle value", true}},
                   risks));
}

void print_years(const HouseStudy& s, const works::HouseAnswers& a, const std::string& currency) {
  Rows rows;
  const int horizon = s.life.years;
  for (int y = 1; y <= horizon; ++y) {
    if (y > 3 && y % 5 != 0 && y != horizon) continue;
    const site::YearOfLife &h = s.harsh[std::size_t(y - 1)], &m = s.mild[std::size_t(y - 1)];
    const double low = std::min(h.capacity, m.capacity), high = std::max(h.capacity, m.capacity);
    rows.push_back({fmt::format("{}", y), fmt::format("{} to {}", percent(low), percent(high)),
                    whole(h.full_cycles), percent(h.depth), whole(h.discharge_kWh),
                    percent(h.self_sufficiency)});
    if (!s.off_grid) rows.back().push_back(whole(h.saving()));
  }
  std::vector<TableColumn> columns = {
      {"year", true},    {"capacity, %", true},
      {"cycles", true},  {"deep, %", true},
      {"kWh out", true}, {s.off_grid ? "served, %" : "not from grid, %", true}};
  std::vector<TableColumn> case_columns = {{""}, {"capacity, %", true}};
  if (!s.off_grid) {
    columns.push_back({"saved", true});
    case_columns.push_back({"saved in the first", true});
  }
  fmt::print("\n{}\n{}\n\n{}", bold("Year by year"),
             quiet("Capacity by two laws; the rest by the harsher one."), table(columns, rows));
  Rows cases, ends;
  for (const works::WearCase& c : a.cases) {
    cases.push_back({c.what, fmt::format("{} to {}", percent(c.low), percent(c.high))});
    if (!s.off_grid) cases.back().push_back(whole(c.first_saving));
  }
  fmt::print("\n{}\n\n{}", bold(fmt::format("What ages it, after {} years", horizon)),
             table(case_columns, cases));
  for (const works::PackEnd& e : a.ends)
    ends.push_back(
        {e.pack, e.cells, fmt::format("{:.1f}", e.capacity_Ah), works::years_text(e.years),
         e.spare.empty() ? "none better" : e.spare + ": " + works::years_text(e.years_with_spare)});
  if (!ends.empty())
    fmt::print(
        "\n{}\n{}\n\n{}", bold("What ends each pack"),
        quiet("Years until its smallest group is too small, by the mean of both laws,\nbeyond "
              "their range."),
        table({{"pack"},
               {"its weakest"},
               {"Ah", true},
               {"years", true},
               {"with the best spare in its place"}},
              ends));
  if (!s.priced) {
    fmt::print("\n{}\n", wrap(s.off_grid ? "Without a grid nothing is said about money."
                                         : "No offer is chosen, so nothing is said about money."));
    return;
  }
  const site::Band& v = a.bands.value;
  fmt::print(
      "\n{}\n\n{}", bold("Money"),
      table({{""}, {"value", true}, {"unit"}},
            {{"spent at the start", whole(s.capital), currency},
             {"worth today, all in", whole(s.value), currency},
             {"earned back after, discounted",
              s.payback_years ? fmt::format("{:.1f}", *s.payback_years) : "never", "a"},
             {"internal rate",
              s.internal_rate ? fmt::format("{:.1f}", 100.0 * *s.internal_rate) : "none", "%"},
             {"as a sales sheet would say it", fmt::format("{:.1f}", s.naive_payback_years), "a"},
             {"a tenth of futures is worth less than", whole(v.low), currency},
             {"half of them less than", whole(v.middle), currency},
             {"nine tenths less than", whole(v.high), currency},
             {"futures that pay", percent(a.bands.pays), "%"}}));
  print_risks(a);
  Rows swings;
  for (const works::Swing& w : a.swings)
    swings.push_back({w.what, whole(w.low), whole(w.high), whole(std::abs(w.high - w.low))});
  fmt::print("\n{}\n{}\n\n{}", bold("What the value hangs on"),
             quiet("Worth today with each lower or higher by what stands there."),
             table({{"assumption"}, {"lower", true}, {"higher", true}, {"apart", true}}, swings));
}

}  // namespace

int forecast(const ForecastOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  bool stop = false;
  std::vector<findings::Finding> ours;
  for (const findings::Finding& f : plan.findings) {
    if (f.basis != "docs/models/year.md" && f.basis != "docs/howto/year.md") continue;
    ours.push_back(f);
    stop = stop || f.severity == findings::Severity::stop;
  }
  if (!plan.house) {
    const std::string what = ours.empty() ? "the project does not tell of the house" : ours[0].what;
    throw base::InputError(
        {ours.empty() ? options.file : ours[0].where, 0, 0}, what,
        ours.empty() ? "annual_kWh in [site] or load.csv, buy in [tariff]" : ours[0].limit,
        ours.empty() ? "see docs/howto/year.md" : ours[0].remedy);
  }
  const HouseStudy& s = *plan.house;
  if (s.off_grid && !options.tariffs.empty())
    throw base::InputError({},
                           "--tariff " + options.tariffs.front() + " for a house without a grid",
                           "a house with a grid", "leave the tariff out, or set grid in [site]");
  Progress progress("playing futures");
  works::HouseAnswers a;
  if (!s.off_grid) a.foresight = works::foresight(s);
  progress.at(0.3);
  a.bands = works::futures(project, s, options.futures);
  progress.at(0.8);
  a.panels = works::bank_and_panels(s);
  for (const std::string& file : options.tariffs)
    a.tariffs.push_back(works::under_tariff(project, s, store::read_file(file), file));
  a.cases = works::wear_cases(s);
  a.ends = works::pack_ends(project, plan);
  if (s.priced) a.swings = works::tornado(project, s);
  if (options.json) {
    Json json = works::to_json(project, s, a);
    json["futures"]["count"] = options.futures;
    json["findings"] = findings::to_json(ours);
    print_json(json);
    return stop ? 1 : 0;
  }
  const std::string currency = project.about.currency();
  fmt::print("{}\n", bold(project.about.name()));
  print_year(s, a, currency);
  if (!s.off_grid) print_sizes(s, a, currency);
  print_tariffs(s, a);
  print_years(s, a, currency);
  if (!ours.empty()) fmt::print("\n{}\n{}", bold("Findings"), findings_text(ours));
  fmt::print("\n{}\n", wrap("The ageing laws were fitted on small cells over two and a half years: "
                            "read all this as a band, and hold it against the bank's own record."));
  return stop ? 1 : 0;
}

}  // namespace cli
