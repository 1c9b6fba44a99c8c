// SPDX-License-Identifier: Apache-2.0
// What is asked of a house's years once they are built: futures, foresight, swings, wear, ends.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/side_by_side.hpp"
#include "works/house.hpp"
#include "works/plan.hpp"
#include "works/settings.hpp"
#include "works/steps.hpp"
#include "works/what_if.hpp"

namespace works {
namespace {

/// The project's other rule for the same store and year, with the study's limits.
site::Rules other_rule(const HouseStudy& s, std::string_view name, const site::Year& year,
                       const site::Prices& prices) {
  site::Rules rules;
  if (name == "shift") {
    rules = site::shifting(prices, s.store, 0.0);
  } else if (name == "shave") {
    rules.kind = site::Rules::Kind::shave;
    rules.shave_kW = site::lowest_limit_kW(year, s.store);
  } else if (name == "follow") {
    rules = site::following(year, prices, s.store, s.forecast_error, house_seed);
  }
  rules.export_kW = s.rules.export_kW, rules.import_kW = s.rules.import_kW;
  rules.day_charge_kW = s.rules.day_charge_kW;
  return rules;
}

}  // namespace

site::FutureBands futures(const Project& p, const HouseStudy& s, int count) {
  site::Futures f;
  f.count = count;
  f.seed = house_seed;
  f.load_growth_sd = p.number("future", "load_sd_percent") / 100.0;
  f.price_growth_sd = p.number("future", "price_sd_percent") / 100.0;
  f.sun_sd = p.number("future", "sun_sd_percent") / 100.0;
  f.capital = s.capital;
  f.upkeep = p.number("use", "upkeep_per_year");
  f.rate = p.number("use", "rate_percent") / 100.0;
  const site::Year hours = site::hourly(s.year);
  const site::Prices prices = site::hourly(s.prices, s.year.step_h);
  // Means over an hour hide what the house draws and the panels give at the same time in turns:
  // the first year saves as much as in the year's own steps.
  f.factor = 1.0 - p.number("future", "tax_percent") / 100.0;
  const double fine = s.without.cost - s.with_store.cost,
               coarse = site::cost_without(hours, prices) -
                        site::dispatch(hours, &prices, s.store, {}).cost;
  if (fine > 0.0 && coarse > 0.0) f.factor *= fine / coarse;
  return site::play_futures(hours, prices, s.store, s.life, f);
}

Foresight foresight(const HouseStudy& s) {
  const site::Year hours = site::hourly(s.year);
  const site::Prices prices = site::hourly(s.prices, s.year.step_h);
  Foresight f;
  site::BoundOptions options;
  options.export_kW = s.rules.export_kW;
  f.bound = site::optimum(hours, prices, s.store, options);
  f.without = site::cost_without(hours, prices);
  const auto [lowest, highest] = std::minmax_element(prices.buy.begin(), prices.buy.end());
  for (const std::string_view name : {"self-use", "shift", "shave", "follow"}) {
    // A rule for what the tariff does not have says nothing.
    if (name != s.rule && ((name == "shave" && prices.demand_kW_month <= 0.0) ||
                           ((name == "shift" || name == "follow") && *lowest == *highest)))
      continue;
    const double cost =
        site::dispatch(hours, &prices, s.store, other_rule(s, name, hours, prices)).cost;
    f.rules.emplace_back(name, cost);
    if (name == s.rule) f.rule = cost;
  }
  return f;
}

std::vector<Swing> tornado(const Project& p, const Plan& plan) {
  struct Knob {
    const char *table, *key, *words;
    double low = 0.8, high = 1.2;
  };
  constexpr Knob knobs[] = {{"tariff", "buy", "price of a kWh bought"},
                            {"tariff", "sell", "price of a kWh sold"},
                            {"site", "annual_kWh", "what the house uses"},
                            {"site", "solar_kW", "panels"},
                            {"use", "other_capital", "what the bank costs beside its cells"},
                            {"use", "rate_percent", "yearly rate"},
                            {"use", "temperature_C", "cells' temperature"},
                            {"dispatch", "high_charge", "charge limit", 0.9, 1.05},
                            {"dispatch", "one_way_percent", "efficiency", 0.97, 1.03},
                            {"dispatch", "standby_W", "standby draw"}};
  std::vector<Swing> swings;
  for (const Knob& knob : knobs) {
    const auto value = p.maybe(knob.table, knob.key);
    const double now = value ? *value : 0.0;
    if (now == 0.0) continue;
    const Setting* setting = find_setting(knob.table, knob.key);
    const auto with = [&](double factor) {
      Project other = p;
      other.given[fmt::format("{}.{}", knob.table, knob.key)] =
          std::clamp(now * factor, setting->min, setting->max);
      const auto study = house_study(other, plan, false);
      return study ? study->value : 0.0;
    };
    swings.push_back({knob.words, with(knob.low), with(knob.high)});
  }
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
      return site::live(s.year, s.prices, s.store, s.rules, life);
    };
    const auto harsh = play(life::Law::naumann), mild = play(life::Law::schimpe);
    const double a = harsh.back().capacity, b = mild.back().capacity;
    cases[k] = {c.what, std::min(a, b), std::max(a, b), harsh.front().saving()};
  });
  return cases;
}

std::vector<PackEnd> pack_ends(const Project& p, const Plan& plan) {
  std::vector<PackEnd> ends;
  if (!plan.arrangement) return ends;
  const match::Assignment& a = plan.arrangement->assignment;
  const auto candidates = placed_candidates(plan);
  const double least = p.number("use", "end_percent") / 100.0 *
                       p.number("cell", "rated_capacity_Ah") * p.number("layout", "parallel");
  const steps::Use use = steps::use_of(p, plan);
  const auto years = [&](double Ah) {
    const auto holds = [&](double year) {
      const YearForecast left = steps::forecast_at(use, year);
      return Ah * 0.5 * (left.low + left.high) >= least;
    };
    if (holds(furthest_years)) return furthest_years;
    double yes = 0.0, no = furthest_years;
    while (no - yes > 0.005) {
      const double middle = 0.5 * (yes + no);
      (holds(middle) ? yes : no) = middle;
    }
    return yes;
  };
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
