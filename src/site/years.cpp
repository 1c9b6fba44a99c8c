// SPDX-License-Identifier: Apache-2.0
#include "site/years.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"
#include "base/side_by_side.hpp"
#include "site/optimum.hpp"

namespace site {
namespace {

namespace units = base::units;

/// How the store was used: full cycles of the capacity when new, the mean depth by rainflow, the
/// mean charge, all as shares of that capacity.
struct Used {
  double full_cycles = 0.0, depth = 0.0, mean_charge = 0.0, c_rate = 0.0;
};
Used used(const std::vector<double>& charge_kWh, const Outcome& o, const Life& life,
          double capacity, double step_h) {
  Used u;
  u.full_cycles = life.nominal_kWh > 0.0 ? o.inside_out_kWh / life.nominal_kWh : 0.0;
  double sum = 0.0;
  std::size_t moving = 0;
  for (std::size_t i = 0; i < charge_kWh.size(); ++i) {
    sum += charge_kWh[i];
    moving += i > 0 && charge_kWh[i] < charge_kWh[i - 1];
  }
  const double full = std::max(1e-9, life.nominal_kWh * capacity);
  u.mean_charge = life.low_charge + sum / double(charge_kWh.size()) / full;
  double weight = 0.0, depths = 0.0;
  for (const life::CountedCycle& c : life::count_cycles(charge_kWh)) {
    const double depth = c.range / full;
    weight += c.count * depth, depths += c.count * depth * depth;
  }
  u.depth = weight > 0.0 ? depths / weight : 0.0;
  u.c_rate = moving > 0 ? o.inside_out_kWh / (double(moving) * step_h) / full : 0.0;
  return u;
}

void wear_a_year(life::Wear& wear, const Used& u, const std::array<double, 12>& cells_C) {
  for (const double C : cells_C)
    wear.add({.time = 365.25 / 12.0 * units::day,
              .temperature = base::Temperature::from_C(C),
              .mean_charge = std::clamp(u.mean_charge, 0.0, 1.0),
              .full_cycles = u.full_cycles / 12.0,
              .depth = std::clamp(u.depth, 0.01, 1.0),
              .c_rate = std::max(0.05, u.c_rate)});
}

}  // namespace

life::Conditions conditions_of(const Year& year, const Prices& prices, const Store& store,
                               const Rules& rules, const Life& life) {
  std::vector<double> charge;
  const Outcome o = dispatch(year, &prices, store, rules, &charge);
  const Used u = used(charge, o, life, 1.0, year.step_h);
  return {.cells_C = life.cells_C,
          .mean_charge = std::clamp(u.mean_charge, 0.0, 1.0),
          .full_cycles_year = u.full_cycles,
          .depth = std::clamp(u.depth, 0.01, 1.0),
          .c_rate = std::max(0.05, u.c_rate)};
}

std::vector<YearOfLife> live(const Year& year, const Prices& prices, const Store& store,
                             const Rules& rules, const Life& life) {
  CHECK(life.years >= 1 && life.high_charge > life.low_charge);
  std::vector<YearOfLife> years;
  life::Wear wear(life.law);
  Year now = year;
  Prices paid = prices;
  std::vector<double> charge;
  for (int y = 1; y <= life.years; ++y) {
    YearOfLife r;
    r.year = y;
    r.capacity = 1.0 - wear.loss();
    if (r.capacity < life.end_share) break;
    Store s = store;
    s.usable_kWh = life.usable_kWh(r.capacity);
    s.start_kWh = std::min(s.start_kWh, s.usable_kWh);
    const Outcome o =
        dispatch(now, &paid, s, y == 1 ? rules : remade(rules, now, paid, s), &charge);
    const bool as_before = y > 1 && life.load_growth == 0.0 && life.price_growth == 0.0;
    r.cost_without =
        as_before ? years.back().cost_without : cost_without(now, paid, rules.export_kW);
    const Used u = used(charge, o, life, r.capacity, year.step_h);
    r.full_cycles = u.full_cycles, r.depth = u.depth, r.mean_charge = u.mean_charge;
    r.c_rate = u.c_rate;
    r.import_kWh = o.import_kWh, r.export_kWh = o.export_kWh, r.discharge_kWh = o.discharge_kWh;
    r.self_sufficiency = o.self_sufficiency();
    r.cost = o.cost;
    years.push_back(r);
    wear_a_year(wear, u, life.cells_C);
    if (life.load_growth != 0.0)
      for (double& kW : now.load_kW) kW *= 1.0 + life.load_growth;
    if (life.price_growth != 0.0)
      for (double& price : paid.buy) price *= 1.0 + life.price_growth;
  }
  return years;
}

namespace {

/// The same store with another size: powers grow with it up to the store's own.
Store sized(const Store& store, const Life& life, double nominal_kWh) {
  Store s = store;
  s.usable_kWh = nominal_kWh * life.window();
  s.charge_kW = std::min(store.charge_kW, life.charge_rate * nominal_kWh);
  s.discharge_kW = std::min(store.discharge_kW, life.discharge_rate * nominal_kWh);
  if (nominal_kWh <= 0.0) s.standby_kW = 0.0;
  return s;
}

}  // namespace

void put_bounds(std::vector<SizePoint>& points, const Year& year, const Prices& prices,
                const Store& store, const Rules& rules, const Life& life) {
  const double without = cost_without(year, prices, rules.export_kW);
  base::side_by_side(points.size(), [&](std::size_t i) {
    BoundOptions options;
    options.way = false;
    options.export_kW = std::min(options.export_kW, rules.export_kW);
    options.day_charge_kW = rules.day_charge_kW;
    const Bound bound = optimum(year, prices, sized(store, life, points[i].nominal_kWh), options);
    points[i].best_saving.reset();
    if (bound.status == Bound::Status::optimal)
      points[i].best_saving = without - bound.cost + bound.gap;
  });
}

std::vector<SizePoint> sweep(const Year& year, const Prices& prices, const Store& store,
                             const Rules& rules, const Life& life,
                             const std::vector<double>& sizes_kWh) {
  CHECK(!sizes_kWh.empty() && std::is_sorted(sizes_kWh.begin(), sizes_kWh.end()));
  std::vector<SizePoint> points(sizes_kWh.size());
  base::side_by_side(sizes_kWh.size(), [&](std::size_t i) {
    const Store s = sized(store, life, sizes_kWh[i]);
    points[i].nominal_kWh = sizes_kWh[i];
    points[i].outcome = dispatch(year, &prices, s, remade(rules, year, prices, s));
  });
  const double without = cost_without(year, prices, rules.export_kW);
  for (SizePoint& p : points) p.saving = without - p.outcome.cost;
  for (std::size_t i = 0; i + 1 < points.size(); ++i)
    points[i].next_kWh_saving = (points[i + 1].saving - points[i].saving) /
                                (points[i + 1].nominal_kWh - points[i].nominal_kWh);
  return points;
}

Year hourly(const Year& year) {
  Year h;
  h.step_h = 1.0;
  h.first_day = year.first_day;
  const auto per = std::size_t(1.0 / year.step_h + 0.5);
  const auto mean = [&](const std::vector<double>& x) {
    std::vector<double> out(x.size() / per);
    for (std::size_t i = 0; i < out.size(); ++i) {
      double sum = 0.0;
      for (std::size_t k = 0; k < per; ++k) sum += x[i * per + k];
      out[i] = sum / double(per);
    }
    return out;
  };
  h.load_kW = mean(year.load_kW), h.solar_kW = mean(year.solar_kW);
  return h;
}

Prices hourly(const Prices& prices, double step_h) {
  Prices h = prices;
  const auto per = std::size_t(1.0 / step_h + 0.5);
  const auto first = [&](const std::vector<double>& x) {
    std::vector<double> out(x.size() / per);
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = x[i * per];
    return out;
  };
  h.buy = first(prices.buy), h.sell = first(prices.sell);
  return h;
}

}  // namespace site
