// SPDX-License-Identifier: Apache-2.0
#include "site/years.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>

#include "base/check.hpp"
#include "base/side_by_side.hpp"
#include "base/small_random.hpp"
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

Band band_of(std::vector<double> values) {
  if (values.empty()) return {};
  const auto at = [&](double share) {
    const auto k =
        std::ptrdiff_t(std::min(double(values.size() - 1), share * double(values.size())));
    std::nth_element(values.begin(), values.begin() + k, values.end());
    return values[std::size_t(k)];
  };
  const double low = at(0.1), middle = at(0.5), high = at(0.9);
  return {low, middle, high};
}

}  // namespace

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

FutureBands play_futures(const Year& hourly, const Prices& prices, const Store& store,
                         const Life& life, const Futures& f,
                         const std::function<bool(double)>& keep_going) {
  constexpr std::size_t width = Lanes::width;
  CHECK(f.count >= 1 && prices.buy.size() == hourly.steps());
  const std::size_t blocks = (std::size_t(f.count) + width - 1) / width;
  const auto years = std::size_t(life.years);
  struct Future {
    std::vector<double> capacity, saving;
    double value = 0.0, end = 0.0;
  };
  std::vector<Future> all(blocks * width);
  const double eta_in = 1.0 - store.charging.k1, eta_out = 1.0 / (1.0 + store.discharging.k1);
  const double window = life.window();
  std::atomic<std::size_t> done = 0;
  std::atomic<bool> stopped = false;
  base::side_by_side(blocks, [&](std::size_t block) {
    if (stopped) return;
    if (keep_going && !keep_going(double(done++) / double(blocks))) stopped = true;
    base::SmallRandom random(f.seed * 1000003ULL + block);
    std::array<life::Wear, width> mild{
        life::Wear(life::Law::schimpe), life::Wear(life::Law::schimpe),
        life::Wear(life::Law::schimpe), life::Wear(life::Law::schimpe),
        life::Wear(life::Law::schimpe), life::Wear(life::Law::schimpe),
        life::Wear(life::Law::schimpe), life::Wear(life::Law::schimpe)};
    std::array<life::Wear, width> harsh{
        life::Wear(life::Law::naumann), life::Wear(life::Law::naumann),
        life::Wear(life::Law::naumann), life::Wear(life::Law::naumann),
        life::Wear(life::Law::naumann), life::Wear(life::Law::naumann),
        life::Wear(life::Law::naumann), life::Wear(life::Law::naumann)};
    std::array<double, width> mix{}, load_growth{}, price_growth{}, load{}, price{}, factor{};
    std::array<bool, width> lives{};
    for (std::size_t l = 0; l < width; ++l) {
      mix[l] = random.uniform();
      load_growth[l] = 1.0 + life.load_growth + f.load_growth_sd * random.normal();
      price_growth[l] = 1.0 + life.price_growth + f.price_growth_sd * random.normal();
      load[l] = price[l] = factor[l] = 1.0, lives[l] = true;
      all[block * width + l].value = -f.capital;
      all[block * width + l].end = double(life.years);
    }
    for (std::size_t y = 0; y < years; ++y) {
      Lanes lanes{};
      lanes.standby_kW = store.standby_kW, lanes.export_kW = f.export_kW;
      std::array<double, width> capacity{};
      for (std::size_t l = 0; l < width; ++l) {
        capacity[l] = 1.0 - (mix[l] * mild[l].loss() + (1.0 - mix[l]) * harsh[l].loss());
        if (lives[l] && capacity[l] < life.end_share)
          lives[l] = false, all[block * width + l].end = double(y);
        lanes.load[l] = load[l];
        lanes.solar[l] = std::max(0.3, 1.0 + f.sun_sd * random.normal());
        lanes.usable_kWh[l] =
            lives[l] ? std::max(0.0, life.usable_kWh(capacity[l]) - store.reserve_kWh) : 0.0;
        lanes.charge_kW[l] = store.charge_kW, lanes.discharge_kW[l] = store.discharge_kW;
        lanes.charging[l] = eta_in, lanes.discharging[l] = eta_out;
      }
      self_use(hourly, lanes, &prices);
      for (std::size_t l = 0; l < width; ++l) {
        Future& future = all[block * width + l];
        if (lives[l]) {
          const double saving = (lanes.saving_buy[l] * price[l] - lanes.lost_sell[l]) * f.factor;
          factor[l] /= 1.0 + f.rate;
          const double spent = f.upkeep + (f.replace_years > 0.0 && y > 0 &&
                                                   std::floor(double(y) / f.replace_years) >
                                                       std::floor(double(y - 1) / f.replace_years)
                                               ? f.replace_cost
                                               : 0.0);
          future.value += (saving - spent) * factor[l];
          future.capacity.push_back(capacity[l]);
          future.saving.push_back(saving);
          const double cycles = lanes.discharge_kWh[l] / eta_out / life.nominal_kWh;
          // Depth and mean charge hardly differ between futures: those of a day's cycle.
          Used u;
          u.full_cycles = cycles;
          u.depth = std::clamp(cycles / 365.25 / capacity[l] * 1.3, 0.05, window);
          u.mean_charge = life.low_charge + 0.45 * window;
          u.c_rate = 0.2;
          wear_a_year(mild[l], u, life.cells_C);
          wear_a_year(harsh[l], u, life.cells_C);
        }
        load[l] *= load_growth[l], price[l] *= price_growth[l];
      }
    }
  });
  if (stopped) {
    FutureBands none;
    none.stopped = true;
    return none;
  }
  all.resize(std::size_t(f.count));
  for (Future& future : all)
    future.value += f.end_value / std::pow(1.0 + f.rate, double(future.saving.size()));
  FutureBands bands;
  std::vector<double> values, ends;
  for (const Future& future : all) {
    values.push_back(future.value), ends.push_back(future.end);
    bands.pays += future.value > 0.0;
  }
  bands.pays /= double(f.count);
  bands.value = band_of(values), bands.end_year = band_of(ends);
  for (std::size_t y = 0; y < years; ++y) {
    std::vector<double> capacity, saving;
    for (const Future& future : all)
      if (future.capacity.size() > y)
        capacity.push_back(future.capacity[y]), saving.push_back(future.saving[y]);
    if (capacity.size() < std::size_t(f.count) / 2 || capacity.empty()) break;
    bands.capacity.push_back(band_of(capacity)), bands.saving.push_back(band_of(saving));
  }
  return bands;
}

}  // namespace site
