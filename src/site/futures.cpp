// SPDX-License-Identifier: Apache-2.0
#include "site/futures.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/side_by_side.hpp"
#include "base/small_random.hpp"

namespace site {
namespace {

/// Chance of one future in one risk: its own stream, so that nothing else moves it.
base::SmallRandom chance(const Futures& f, std::size_t future, Risk risk) {
  base::SmallRandom mixed(std::uint64_t(f.seed) * 1000003ULL + future);
  return base::SmallRandom(mixed.next() ^ (std::uint64_t(risk) + 1) * 0x9E3779B97F4A7C15ULL);
}

using Drawn = std::array<bool, std::size(all_risks)>;

/// What one future meets, year by year.
struct Path {
  std::vector<double> sun, load, price, sell, kept;  ///< factors; `kept` of the saving
  std::vector<double> spent;                         ///< on electronics and mending
};

Path path_of(const Futures& f, const Life& life, std::size_t future, const Drawn& drawn) {
  const auto years = std::size_t(life.years);
  Path p;
  p.sun.assign(years, 1.0), p.load.assign(years, 1.0), p.price.assign(years, 1.0);
  p.sell.assign(years, 1.0), p.kept.assign(years, 1.0), p.spent.assign(years, 0.0);
  const auto is = [&](Risk r) { return drawn[std::size_t(r)]; };
  if (is(Risk::weather)) {
    base::SmallRandom r = chance(f, future, Risk::weather);
    for (double& x : p.sun) x = std::max(0.3, 1.0 + f.sun_sd * r.normal());
  }
  if (is(Risk::yield)) {
    base::SmallRandom r = chance(f, future, Risk::yield);
    const double bias = std::max(0.3, 1.0 + f.yield_bias + f.yield_sd * r.normal());
    for (double& x : p.sun) x *= bias;
  }
  {
    base::SmallRandom r = chance(f, future, Risk::load);
    double level = 1.0, growth = 1.0 + life.load_growth;
    if (is(Risk::load)) {
      level = std::max(0.2, 1.0 + f.load_sd * r.normal());
      growth += f.load_growth_sd * r.normal();
    }
    for (std::size_t y = 0; y < years; ++y) p.load[y] = level * std::pow(growth, double(y));
  }
  {
    base::SmallRandom r = chance(f, future, Risk::price);
    double level = 1.0, growth = 1.0 + life.price_growth;
    if (is(Risk::price)) {
      level = std::max(0.2, 1.0 + f.price_sd * r.normal());
      growth += f.price_growth_sd * r.normal();
    }
    for (std::size_t y = 0; y < years; ++y) {
      p.price[y] = level * std::pow(growth, double(y));
      if (is(Risk::price)) p.price[y] *= std::max(0.2, 1.0 + f.price_moves_sd * r.normal());
    }
  }
  if (is(Risk::feed_in)) {
    base::SmallRandom r = chance(f, future, Risk::feed_in);
    const double level = std::max(0.0, 1.0 + f.sell_sd * r.normal());
    for (double& x : p.sell) x = level;
  }
  if (is(Risk::tariff)) {
    base::SmallRandom r = chance(f, future, Risk::tariff);
    double kept = 1.0;
    for (double& x : p.kept) {
      const bool changes = r.uniform() < f.tariff_hazard;
      const double taken = f.tariff_low + (f.tariff_high - f.tariff_low) * r.uniform();
      if (changes) kept *= 1.0 - taken;
      x = kept;
    }
  }
  if (f.replace_years > 0.0) {
    for (std::size_t y = 1; y < years; ++y)
      if (std::floor(double(y) / f.replace_years) > std::floor(double(y - 1) / f.replace_years))
        p.spent[y] += f.replace_cost;
  } else if (is(Risk::electronics)) {
    base::SmallRandom r = chance(f, future, Risk::electronics);
    for (double at = 0.0;;) {
      at += std::max(1.0, f.electronics_years + f.electronics_years_sd * r.normal());
      const double cost =
          f.electronics_low + (f.electronics_high - f.electronics_low) * r.uniform();
      if (at >= double(years)) break;
      p.spent[std::size_t(at)] += cost;
    }
  }
  if (is(Risk::failure)) {
    base::SmallRandom r = chance(f, future, Risk::failure);
    for (double& x : p.spent)
      if (r.uniform() < f.failure_hazard) x += f.failure_share * f.capital;
  }
  return p;
}

struct Future {
  std::vector<double> capacity, saving;
  double value = 0.0, end = 0.0;
};

/// One future to its end. `draw` of the band, or its middle.
Future live_one(const SavingSurface& surface, const Life& life, const Futures& f, const Path& p,
                const std::function<double(double)>& capacity_after) {
  Future future;
  future.value = -f.capital;
  future.end = double(life.years);
  double discount = 1.0;
  for (std::size_t y = 0; y < std::size_t(life.years); ++y) {
    const double capacity = capacity_after(double(y));
    if (capacity < life.end_share) {
      future.end = double(y);
      break;
    }
    const Saving s = surface.at(capacity, p.load[y], p.sun[y]);
    const double saving =
        (s.bought * p.price[y] + s.sold * p.sell[y] + s.peaks * p.price[y]) * p.kept[y] * f.factor;
    discount /= 1.0 + f.rate;
    future.value += (saving - f.upkeep - p.spent[y]) * discount;
    future.capacity.push_back(capacity), future.saving.push_back(saving);
  }
  future.value += f.end_value * discount;
  return future;
}

Band band_of(std::vector<double> values) {
  if (values.empty()) return {};
  std::sort(values.begin(), values.end());
  const auto at = [&](double share) {
    return values[std::min(values.size() - 1, std::size_t(share * double(values.size())))];
  };
  return {at(0.1), at(0.5), at(0.9)};
}

std::vector<Future> play(const SavingSurface& surface, const life::Band& band, const Life& life,
                         const Futures& f, const Drawn& drawn) {
  const auto count = std::size_t(f.count);
  std::vector<Future> all(count);
  const std::vector<std::size_t> picked = band.pick(count);
  const std::vector<double> weak = band.weaknesses(f.group);
  // The middle life where ageing is not drawn: its medians by year.
  std::vector<double> middle;
  if (!drawn[std::size_t(Risk::ageing)])
    for (const life::Interval& i : band.by_year(life.years, f.group)) middle.push_back(i.median);
  constexpr std::size_t block = 64;
  base::side_by_side(
      (count + block - 1) / block,
      [&](std::size_t b) {
        for (std::size_t k = b * block; k < std::min(count, (b + 1) * block); ++k)
          all[k] = live_one(surface, life, f, path_of(f, life, k, drawn), [&](double years) {
            return middle.empty() ? band.capacity_at(picked[k], years, weak[picked[k]])
                                  : middle[std::size_t(years)];
          });
      },
      f.threads);
  return all;
}

double share_that_pays(const std::vector<Future>& all) {
  std::size_t pays = 0;
  for (const Future& future : all) pays += future.value > 0.0;
  return double(pays) / double(all.size());
}

Band values_of(const std::vector<Future>& all) {
  std::vector<double> values;
  for (const Future& future : all) values.push_back(future.value);
  return band_of(std::move(values));
}

std::vector<Assumption> assumptions_of(const Futures& f, const Life& life, const Drawn& drawn) {
  std::vector<Assumption> a;
  const auto is = [&](Risk r) { return drawn[std::size_t(r)]; };
  const auto percent = [](double share) { return fmt::format("{:g} %", 100.0 * share); };
  const auto put = [&](Risk risk, std::string value) {
    a.push_back({words(risk), is(risk) ? std::move(value) : "left out"});
  };
  a.push_back({"price of buying, growth a year over inflation", percent(life.price_growth)});
  a.push_back({"what the house uses, growth a year", percent(life.load_growth)});
  a.push_back({"yearly rate over inflation", percent(f.rate)});
  put(Risk::weather, fmt::format("a year's sun ± {}", percent(f.sun_sd)));
  put(Risk::yield, fmt::format("{} ± {}", percent(f.yield_bias), percent(f.yield_sd)));
  put(Risk::load,
      fmt::format("level ± {}, growth ± {} a year", percent(f.load_sd), percent(f.load_growth_sd)));
  put(Risk::price, fmt::format("level ± {}, growth ± {} a year, moves ± {}", percent(f.price_sd),
                               percent(f.price_growth_sd), percent(f.price_moves_sd)));
  put(Risk::feed_in, fmt::format("± {}", percent(f.sell_sd)));
  put(Risk::tariff,
      fmt::format("{} a year, then {} to {} of the saving gone", percent(f.tariff_hazard),
                  percent(f.tariff_low), percent(f.tariff_high)));
  if (f.replace_years > 0.0)
    a.push_back({words(Risk::electronics), fmt::format("as planned: {:g} every {:g} years",
                                                       f.replace_cost, f.replace_years)});
  else
    put(Risk::electronics,
        fmt::format("every {:g} ± {:g} years, {:g} to {:g}", f.electronics_years,
                    f.electronics_years_sd, f.electronics_low, f.electronics_high));
  put(Risk::failure, fmt::format("{} a year, {} of what was spent", percent(f.failure_hazard),
                                 percent(f.failure_share)));
  put(Risk::ageing, "as drawn from the priors, narrowed by the record where there is one");
  a.push_back({"left out", "fire, flood, theft, a new law, loans, moving house"});
  return a;
}

}  // namespace

const char* words(Risk risk) {
  switch (risk) {
    case Risk::weather:
      return "bright and dull years";
    case Risk::yield:
      return "what the panels really give";
    case Risk::load:
      return "what the house uses";
    case Risk::price:
      return "price of buying";
    case Risk::feed_in:
      return "price of selling";
    case Risk::tariff:
      return "another tariff";
    case Risk::electronics:
      return "electronics replaced";
    case Risk::failure:
      return "a pack that fails early";
    case Risk::ageing:
      break;
  }
  return "ageing";
}

FutureBands play_futures(const SavingSurface& surface, const life::Band& band, const Life& life,
                         const Futures& f) {
  CHECK(f.count >= 1 && life.years >= 1);
  Drawn drawn;
  drawn.fill(true);
  for (const Risk r : f.left_out) drawn[std::size_t(r)] = false;
  const std::vector<Future> all = play(surface, band, life, f, drawn);
  FutureBands bands;
  bands.pays = share_that_pays(all);
  bands.value = values_of(all);
  std::vector<double> ends;
  for (const Future& future : all) ends.push_back(future.end);
  bands.end_year = band_of(std::move(ends));
  for (std::size_t y = 0; y < std::size_t(life.years); ++y) {
    std::vector<double> capacity, saving;
    for (const Future& future : all)
      if (future.capacity.size() > y)
        capacity.push_back(future.capacity[y]), saving.push_back(future.saving[y]);
    if (capacity.size() < all.size() / 2 || capacity.empty()) break;
    bands.capacity.push_back(band_of(std::move(capacity)));
    bands.saving.push_back(band_of(std::move(saving)));
  }
  Futures one = f;
  one.count = 1;
  bands.value_as_planned = play(surface, band, life, one, Drawn{}).front().value;
  bands.assumptions = assumptions_of(f, life, drawn);
  for (const life::Interval& i : band.by_year(life.years, f.group))
    bands.ageing.push_back({i.low, i.median, i.high});
  for (int y = 0; y <= life.years; ++y)
    bands.odds_below_end.push_back(band.odds_below(life.end_share, double(y), f.group));
  if (!f.each_risk) return bands;
  for (const Risk risk : all_risks) {
    if (!drawn[std::size_t(risk)]) continue;
    Drawn alone{}, without = drawn;
    alone[std::size_t(risk)] = true, without[std::size_t(risk)] = false;
    const auto a = play(surface, band, life, f, alone), w = play(surface, band, life, f, without);
    bands.risks.push_back(
        {risk, share_that_pays(a), share_that_pays(w), values_of(a).middle, values_of(w).middle});
  }
  return bands;
}

FutureBands play_futures(const Year& year, const Prices& prices, const Store& store,
                         const Rules& rules, const Life& life, const Futures& f,
                         const std::function<bool(double)>& keep_going) {
  const SavingSurface surface(year, prices, store, rules, life, keep_going);
  if (surface.stopped()) {
    FutureBands none;
    none.stopped = true;
    return none;
  }
  if (f.band != nullptr) return play_futures(surface, *f.band, life, f);
  return play_futures(
      surface, life::Band(conditions_of(year, prices, store, rules, life), f.priors), life, f);
}

}  // namespace site
