// SPDX-License-Identifier: Apache-2.0
// What is asked of a house's years once they are built: futures, foresight, swings, wear, ends.
#include <algorithm>
#include <cmath>
#include <functional>

#include <fmt/format.h>

#include "base/side_by_side.hpp"
#include "site/tariff.hpp"
#include "works/house.hpp"
#include "works/plan.hpp"
#include "works/steps.hpp"
#include "works/what_if.hpp"

namespace works {
namespace {

/// Another rule for the same store, with the study's limits.
site::Rules other_rule(const HouseStudy& s, site::Rules::Kind kind, const site::Year& year,
                       const site::Prices& prices) {
  site::Rules rules = s.rules;
  rules.kind = kind;
  return site::remade(rules, year, prices, s.store);
}

}  // namespace

std::vector<YearLine> year_lines(const HouseStudy& s, const std::string& currency) {
  const site::Outcome &n = s.without, &w = s.with_store;
  const bool grid = !s.off_grid;
  std::vector<YearLine> lines = {
      {"used", n.load_kWh, w.load_kWh, "kWh"},
      {"from the panels", n.solar_kWh, w.solar_kWh, "kWh"},
      {grid ? "from the grid" : "unserved", n.import_kWh, w.import_kWh, "kWh"},
      {grid ? "to the grid" : "not used", n.export_kWh, w.export_kWh, "kWh"}};
  if (n.curtailed_kWh > 0.0)
    lines.push_back({"thrown away", n.curtailed_kWh, w.curtailed_kWh, "kWh"});
  lines.push_back({"out of the bank", std::nullopt, w.discharge_kWh, "kWh"});
  lines.push_back({"drawn by the bank itself", std::nullopt, w.standby_kWh, "kWh"});
  if (grid) lines.push_back({"highest import", n.peak_import_kW, w.peak_import_kW, "kW", 1});
  lines.push_back({grid ? "not from the grid" : "served", 100.0 * n.self_sufficiency(),
                   100.0 * w.self_sufficiency(), "%", 1});
  if (grid) lines.push_back({"costs", n.cost, w.cost, currency});
  return lines;
}

std::vector<double> charge_by_hour(const HouseStudy& s) {
  std::vector<double> charge;
  (void)site::dispatch(s.year, &s.prices, s.store, s.rules, &charge);
  const std::size_t a_day = s.year.steps_a_day();
  const std::size_t hours = charge.size() / a_day * 24;
  std::vector<double> sum(hours, 0.0), count(hours, 0.0);
  for (std::size_t i = 0; i < charge.size(); ++i) {
    const std::size_t hour = i / a_day * 24 + std::size_t(double(i % a_day) * s.year.step_h);
    if (hour < hours) sum[hour] += charge[i], count[hour] += 1.0;
  }
  for (std::size_t h = 0; h < hours; ++h)
    sum[h] =
        std::clamp(sum[h] / std::max(1.0, count[h]) / std::max(1e-9, s.store.usable_kWh), 0.0, 1.0);
  return sum;
}

std::vector<double> grid_in_falling_order(const HouseStudy& s, bool with_bank, std::size_t points) {
  site::Store store = s.store;
  if (!with_bank)
    store.usable_kWh = store.charge_kW = store.discharge_kW = store.standby_kW = store.reserve_kWh =
        0.0;
  std::vector<double> charge;
  (void)site::dispatch(s.year, &s.prices, store, with_bank ? s.rules : site::Rules{}, &charge);
  // The grid's side is what the balance leaves: load + standby − sun, and what moved the charge.
  std::vector<double> grid(s.year.steps());
  double before = store.start_kWh;
  const double out = 1.0 / (1.0 + store.discharging.k1), in = 1.0 - store.charging.k1;
  for (std::size_t i = 0; i < grid.size(); ++i) {
    const double moved = (charge[i] - before) / s.year.step_h;
    grid[i] = s.year.load_kW[i] + store.standby_kW - s.year.solar_kW[i] +
              (moved > 0.0 ? moved / in : moved * out);
    before = charge[i];
  }
  std::sort(grid.begin(), grid.end(), std::greater<>());
  std::vector<double> thinned;
  const std::size_t step = std::max<std::size_t>(1, grid.size() / points);
  for (std::size_t i = 0; i < grid.size(); i += step) thinned.push_back(grid[i]);
  thinned.push_back(grid.back());
  return thinned;
}

site::FutureBands futures(const Project& p, const HouseStudy& s, int count,
                          const std::function<bool(double)>& keep_going) {
  site::Futures f;
  f.count = count;
  f.seed = house_seed;
  f.load_growth_sd = p.future.load_sd_percent() / 100.0;
  f.price_growth_sd = p.future.price_sd_percent() / 100.0;
  f.sun_sd = p.future.sun_sd_percent() / 100.0;
  f.capital = s.capital;
  f.upkeep = p.use.upkeep_per_year();
  f.rate = p.use.rate_percent() / 100.0;
  f.factor = 1.0 - p.future.tax_percent() / 100.0;
  if (const auto every = p.future.replace_year())
    f.replace_years = *every, f.replace_cost = p.future.replace_cost();
  f.end_value = s.capital * p.future.end_value_percent() / 100.0;
  f.group = {int(p.layout.series()), int(p.layout.parallel())};
  f.each_risk = true;
  return site::play_futures(s.year, s.prices, s.store, s.rules, s.life, f, keep_going);
}

Foresight foresight(const HouseStudy& s) {
  const site::Year hours = site::hourly(s.year);
  const site::Prices prices = site::hourly(s.prices, s.year.step_h);
  Foresight f;
  site::BoundOptions options;
  options.export_kW = s.rules.export_kW;
  f.bound = site::optimum(hours, prices, s.store, options);
  f.without = site::cost_without(hours, prices, s.rules.export_kW);
  const auto [lowest, highest] = std::minmax_element(prices.buy.begin(), prices.buy.end());
  using Kind = site::Rules::Kind;
  for (const Kind kind : site::rule_kinds) {
    // A rule for what the tariff does not have says nothing.
    if (kind != s.rules.kind &&
        ((kind == Kind::shave && prices.demand_kW_month <= 0.0) ||
         ((kind == Kind::shift || kind == Kind::follow || kind == Kind::ahead) &&
          *lowest == *highest)))
      continue;
    const double cost =
        site::dispatch(hours, &prices, s.store, other_rule(s, kind, hours, prices)).cost;
    f.rules.emplace_back(site::name(kind), cost);
    if (kind == s.rules.kind) f.rule = cost;
  }
  return f;
}

std::vector<Swing> tornado(const Project& p, const HouseStudy& study) {
  const double rate = p.use.rate_percent() / 100.0;
  const auto times = [](std::vector<double>& x, double factor) {
    for (double& v : x) v *= factor;
  };
  // Each changes what the study holds; −1 lower, 1 higher.
  struct Knob {
    std::string words;
    std::function<void(HouseStudy&, double&, double)> turn;
  };
  const std::vector<Knob> knobs = {
      {"price of a kWh bought, ± 20 %",
       [&](HouseStudy& s, double&, double d) { times(s.prices.buy, 1.0 + 0.2 * d); }},
      {"price of a kWh sold, ± 20 %",
       [&](HouseStudy& s, double&, double d) { times(s.prices.sell, 1.0 + 0.2 * d); }},
      {"what the house uses, ± 20 %",
       [&](HouseStudy& s, double&, double d) { times(s.year.load_kW, 1.0 + 0.2 * d); }},
      {"what the sun gives, ± 20 %",
       [&](HouseStudy& s, double&, double d) { times(s.year.solar_kW, 1.0 + 0.2 * d); }},
      {"what the bank costs beside its cells, ± 20 %",
       [&](HouseStudy& s, double&, double d) { s.capital += 0.2 * d * p.use.other_capital(); }},
      {"yearly rate, ± 1 point", [](HouseStudy&, double& r, double d) { r += 0.01 * d; }},
      {"cells' temperature, ± 5 K",
       [](HouseStudy& s, double&, double d) {
         for (double& C : s.life.cells_C) C += 5.0 * d;
       }},
      {"losses, ± 20 %",
       [](HouseStudy& s, double&, double d) {
         for (site::Loss* loss : {&s.store.charging, &s.store.discharging})
           loss->k0 *= 1.0 + 0.2 * d, loss->k1 *= 1.0 + 0.2 * d, loss->k2 *= 1.0 + 0.2 * d;
       }},
      {"standby draw, ± 20 %",
       [](HouseStudy& s, double&, double d) { s.store.standby_kW *= 1.0 + 0.2 * d; }},
      {"charge limit, ± 5 points", [](HouseStudy& s, double&, double d) {
         s.life.high_charge = std::min(1.0, s.life.high_charge + 0.05 * d);
       }}};
  std::vector<Swing> swings(knobs.size());
  base::side_by_side(knobs.size(), [&](std::size_t k) {
    const auto with = [&](double direction) {
      HouseStudy s = study;
      double r = rate;
      knobs[k].turn(s, r, direction);
      s.store.usable_kWh = s.life.usable_kWh();
      s.rules = site::remade(s.rules, s.year, s.prices, s.store);
      put_years(s);
      put_value(p, s, r);
      return s.value;
    };
    swings[k] = {knobs[k].words, with(-1.0), with(1.0)};
  });
  std::erase_if(swings, [](const Swing& w) { return std::abs(w.high - w.low) < 0.5; });
  std::sort(swings.begin(), swings.end(), [](const Swing& a, const Swing& b) {
    return std::abs(a.high - a.low) > std::abs(b.high - b.low);
  });
  return swings;
}

std::vector<WearCase> wear_cases(const HouseStudy& s) {
  struct Change {
    const char* what;
    double charge, warmer_K, size;
  };
  constexpr Change changes[] = {
      {"as planned", 0.0, 0.0, 1.0},        {"filled a tenth less", -0.10, 0.0, 1.0},
      {"filled to the top", 1.0, 0.0, 1.0}, {"10 K warmer", 0.0, 10.0, 1.0},
      {"10 K cooler", 0.0, -10.0, 1.0},     {"half as large: deeper and faster", 0.0, 0.0, 0.5},
      {"twice as large", 0.0, 0.0, 2.0}};
  std::vector<WearCase> cases(std::size(changes));
  base::side_by_side(cases.size(), [&](std::size_t k) {
    const Change& c = changes[k];
    site::Life life = s.life;
    life.high_charge = std::clamp(life.high_charge + c.charge, life.low_charge + 0.1, 1.0);
    life.nominal_kWh *= c.size;
    life.end_share = 0.0;
    life.years += 1;
    for (double& C : life.cells_C) C += c.warmer_K;
    const auto play = [&](life::Law law) {
      life.law = law;
      site::Store store = s.store;
      store.usable_kWh = life.usable_kWh();
      return site::live(s.year, s.prices, store, site::remade(s.rules, s.year, s.prices, store),
                        life);
    };
    const auto harsh = play(life::Law::naumann), mild = play(life::Law::schimpe);
    const double a = harsh.back().capacity, b = mild.back().capacity;
    cases[k] = {c.what, std::min(a, b), std::max(a, b), harsh.front().saving()};
  });
  return cases;
}

std::string years_text(double years) {
  return years >= furthest_years ? fmt::format("over {:.0f}", furthest_years)
                                 : fmt::format("{:.0f}", years);
}

std::vector<PackEnd> pack_ends(const Project& p, const Plan& plan) {
  std::vector<PackEnd> ends;
  if (!plan.arrangement) return ends;
  const match::Assignment& a = plan.arrangement->assignment;
  const auto candidates = placed_candidates(plan);
  const double least =
      p.use.end_percent() / 100.0 * p.cell.rated_capacity.in(base::units::Ah)*p.layout.parallel();
  const steps::Use use = steps::use_of(p, plan);
  const auto years = [&](double Ah) { return years_until(use, Ah, least); };
  const auto Ah = [](base::AmpHours c) { return c.in(base::units::Ah); };
  for (std::size_t k = 0; k < a.packs.size(); ++k) {
    std::vector<const match::Group*> groups;
    for (const match::Group& g : a.packs[k].groups) groups.push_back(&g);
    std::sort(groups.begin(), groups.end(), [](const match::Group* x, const match::Group* y) {
      return x->capacity < y->capacity;
    });
    PackEnd e;
    e.pack = layout::pack_name(static_cast<int>(k));
    e.capacity_Ah = Ah(groups[0]->capacity);
    std::size_t weakest = groups[0]->cells[0];
    for (const std::size_t cell : groups[0]->cells) {
      e.cells += (e.cells.empty() ? "" : "+") + candidates[cell].label;
      if (candidates[cell].capacity < candidates[weakest].capacity) weakest = cell;
    }
    e.years = e.years_with_spare = years(e.capacity_Ah);
    if (!a.spares.empty() && candidates[a.spares[0]].capacity > candidates[weakest].capacity) {
      const double mended = e.capacity_Ah + Ah(candidates[a.spares[0]].capacity) -
                            Ah(candidates[weakest].capacity),
                   next = groups.size() > 1 ? Ah(groups[1]->capacity) : mended;
      e.spare = candidates[a.spares[0]].label;
      e.years_with_spare = years(std::min(mended, next));
    }
    ends.push_back(std::move(e));
  }
  return ends;
}

TariffResult under_tariff(const Project& p, const HouseStudy& study, std::string_view bytes,
                          const std::string& file) {
  HouseStudy s = study;
  const double demand = s.prices.demand_kW_month, standing = s.prices.standing_year;
  s.prices = site::prices_of(s.year, site::read_tariff(bytes, file), p.tariff.sell());
  s.prices.demand_kW_month = demand, s.prices.standing_year = standing;
  TariffResult r;
  r.name = file;
  r.without = site::cost_without(s.year, s.prices, s.rules.export_kW);
  for (const auto kind :
       {site::Rules::Kind::self_use, site::Rules::Kind::shift, site::Rules::Kind::follow})
    r.rules.emplace_back(
        site::name(kind),
        site::dispatch(s.year, &s.prices, s.store, other_rule(s, kind, s.year, s.prices)).cost);
  const auto best =
      std::min_element(r.rules.begin(), r.rules.end(),
                       [](const auto& a, const auto& b) { return a.second < b.second; });
  if (s.priced && s.served > 0) {
    std::vector<double> sizes;
    for (const site::SizePoint& point : s.sizes) sizes.push_back(point.nominal_kWh);
    put_best_size(
        p, s,
        site::sweep(s.year, s.prices, s.store,
                    other_rule(s, site::rule_named(best->first), s.year, s.prices), s.life, sizes));
    r.best_kWh = s.knee_kWh;
  }
  return r;
}

std::vector<SolarPoint> bank_and_panels(const HouseStudy& s) {
  std::vector<SolarPoint> points;
  for (const double solar : {0.5, 1.0, 1.5, 2.0})
    for (const double size : {0.0, 0.5, 1.0, 1.5, 2.0})
      points.push_back({solar, size * s.life.nominal_kWh, 0.0, 0.0});
  base::side_by_side(points.size(), [&](std::size_t k) {
    SolarPoint& point = points[k];
    site::Year year = s.year;
    for (double& kW : year.solar_kW) kW *= point.solar_factor;
    const auto swept = site::sweep(year, s.prices, s.store, s.rules, s.life, {point.nominal_kWh});
    point.self_sufficiency = swept[0].outcome.self_sufficiency();
    point.saving = swept[0].saving;
  });
  return points;
}

}  // namespace works
