// SPDX-License-Identifier: Apache-2.0
#include "life/band.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/small_random.hpp"
#include "base/statistics.hpp"

namespace life {
namespace {

namespace units = base::units;

constexpr double anchor_days = 885.0, field_years = 8.0;
constexpr double gas_constant_kJ = 8.314462618e-3;  // kJ/mol/K, exact
constexpr double field_C = 18.0;  // to which the field's rate is taken to belong (judgement)
constexpr std::size_t figures = 9;
constexpr double least_draws = 50.0;

/// Uniform numbers, one column a figure, each column spread evenly over 0 to 1 in its own order.
std::vector<std::array<double, figures>> uniforms(std::size_t draws, std::uint64_t seed) {
  std::vector<std::array<double, figures>> u(draws);
  std::vector<std::size_t> order(draws);
  for (std::size_t f = 0; f < figures; ++f) {
    base::SmallRandom random(seed * 1000003ULL + f);
    std::iota(order.begin(), order.end(), std::size_t{0});
    for (std::size_t i = draws; i > 1; --i) std::swap(order[i - 1], order[random.next() % i]);
    for (std::size_t i = 0; i < draws; ++i)
      u[i][f] = (double(order[i]) + std::clamp(random.uniform(), 1e-3, 1.0 - 1e-3)) / double(draws);
  }
  return u;
}

double between(double low, double high, double u) { return low + (high - low) * u; }

/// Five sixths between the ends; the rest beyond them, by up to half their distance on either side.
double exponent_of(double low, double high, double u) {
  const double beyond = 0.5 * (high - low), tail = 0.08;
  const double x = u < tail         ? low - beyond * (1.0 - u / tail)
                   : u > 1.0 - tail ? high + beyond * (1.0 - (1.0 - u) / tail)
                                    : between(low, high, (u - tail) / (1.0 - 2.0 * tail));
  return std::max(0.05, x);
}

/// A law's loss at the anchor: storage at 25 °C, and use at the months' own temperatures.
struct Anchor {
  double storage, use;
};
Anchor anchor_of(Law law, const Conditions& c, double warmer_K) {
  Wear wear(law), use(law);
  wear.add({.time = anchor_days * units::day,
            .temperature = base::Temperature::from_C(25.0),
            .mean_charge = c.mean_charge});
  for (const double C : c.cells_C)
    use.add({.time = anchor_days / 12.0 * units::day,
             .temperature = base::Temperature::from_C(C + warmer_K),
             .mean_charge = c.mean_charge,
             .full_cycles = c.full_cycles_year * anchor_days / 365.25 / 12.0,
             .depth = c.depth,
             .c_rate = c.c_rate});
  return {wear.calendar(), use.cycling()};
}

/// Storage at the months' temperatures against `at_C`: what goes with time to a power adds up as
/// its root. [Naumann2018] for the form
double against(const Conditions& c, double warmer_K, double activation_kJ, double exponent,
               double at_C) {
  double sum = 0.0;
  for (const double C : c.cells_C)
    sum += std::pow(std::exp(-activation_kJ / gas_constant_kJ *
                             (1.0 / (C + warmer_K + 273.15) - 1.0 / (at_C + 273.15))),
                    1.0 / exponent) /
           double(c.cells_C.size());
  return std::pow(sum, exponent);
}

/// How far outside the laws' range, in tens of kelvins and in C.
double outside(const Conditions& c) {
  double far = 0.0;
  for (const double C : c.cells_C)
    far += (std::max(0.0, 10.0 - C) + std::max(0.0, C - 45.0)) / 10.0 / double(c.cells_C.size());
  return far + std::max(0.0, c.c_rate - 1.0);
}

}  // namespace

double normal_quantile(double p) {
  CHECK(p > 0.0 && p < 1.0);
  // Halving between bounds, then Newton's steps; the lower half by mirror, where digits are.
  if (p > 0.5) return -normal_quantile(1.0 - p);
  double low = -40.0, high = 0.0;
  for (int i = 0; i < 12; ++i) {
    const double middle = 0.5 * (low + high);
    (base::normal_probability_below(middle) < p ? low : high) = middle;
  }
  double z = 0.5 * (low + high);
  for (int i = 0; i < 8; ++i) {
    const double density = std::exp(-0.5 * z * z) / std::sqrt(2.0 * M_PI);
    const double step = (base::normal_probability_below(z) - p) / std::max(density, 1e-300);
    z = std::clamp(z - step, low, high);
    if (std::abs(step) < 1e-14 * (1.0 + std::abs(z))) break;
  }
  return z;
}

std::vector<PriorRow> prior_table(const Priors& p) {
  constexpr const char* judgement = "judgement";
  constexpr const char* storage = "[Lam2025]";
  return {
      {"design_spread", "loss between designs, as a share", "", p.design_spread, judgement},
      {"exponent_low", "power of time, least", "", p.exponent_low, storage},
      {"exponent_high", "power of time, most", "", p.exponent_high, storage},
      {"activation_low", "activation energy, least", "kJ/mol", p.activation_low, "[Naumann2018]"},
      {"activation_high", "activation energy, most", "kJ/mol", p.activation_high, storage},
      {"temperature_spread_K", "cells' temperature about the plan", "K", p.temperature_spread_K,
       judgement},
      {"field_weight", "that it ages as stores in the field did", "", p.field_weight, judgement},
      {"field_rate", "points lost a year in the field", "points", p.field_rate, judgement},
      {"field_spread", "spread of that rate", "points", p.field_spread, judgement},
      {"field_exponent_low", "power of time beyond eight years, least", "", p.field_exponent_low,
       judgement},
      {"field_exponent_high", "power of time beyond eight years, most", "", p.field_exponent_high,
       judgement},
      {"cell_spread", "loss among equal cells of a lot, as a share", "", p.cell_spread,
       "[Ma2022], cycle life; as loss by judgement"},
      {"wander", "a year's capacity about any law", "", p.wander, judgement},
  };
}

void check(const Priors& p) {
  const auto refuse = [](const char* what, const std::string& found, const char* expected) {
    throw base::InputError({}, fmt::format("{}: {}", what, found), expected,
                           "change one of them, or leave both out for the defaults");
  };
  const auto ends = [&](const char* what, double low, double high, double least) {
    if (!(low <= high)) refuse(what, fmt::format("{:g} above {:g}", low, high), "low below high");
    if (!(low >= least)) refuse(what, fmt::format("{:g}", low), "more than nothing");
  };
  ends("power of time", p.exponent_low, p.exponent_high, 0.05);
  ends("activation energy", p.activation_low, p.activation_high, 0.0);
  ends("power of time in the field", p.field_exponent_low, p.field_exponent_high, 0.05);
  for (const auto& [what, spread] : {std::pair{"spread between designs", p.design_spread},
                                     {"spread of temperature", p.temperature_spread_K},
                                     {"spread in the field", p.field_spread},
                                     {"spread among cells", p.cell_spread},
                                     {"wander", p.wander},
                                     {"rate in the field", p.field_rate}})
    if (!(spread >= 0.0)) refuse(what, fmt::format("{:g}", spread), "zero or more");
  if (!(p.field_weight >= 0.0 && p.field_weight <= 1.0))
    refuse("weight of the field", fmt::format("{:g}", p.field_weight), "a share from 0 to 1");
}

Band::Band(const Conditions& c, const Priors& priors, std::size_t draws, std::uint64_t seed)
    : cell_spread_(priors.cell_spread), wander_(priors.wander) {
  CHECK(draws >= 1);
  check(priors);
  const double spread = std::hypot(priors.design_spread, 0.1 * outside(c));
  const auto u = uniforms(draws, seed);
  // Use at other temperatures than planned: by three points and straight lines between them.
  const double warm = std::max(1.0, 2.0 * priors.temperature_spread_K);
  struct Laws {
    Anchor cooler, planned, warmer;
  };
  const auto laws = [&](Law law) {
    return Laws{anchor_of(law, c, -warm), anchor_of(law, c, 0.0), anchor_of(law, c, warm)};
  };
  const Laws naumann = laws(Law::naumann), schimpe = laws(Law::schimpe);
  const auto use_at = [&](const Laws& l, double K) {
    const double x = std::clamp(K / warm, -1.5, 1.5);
    return x < 0.0 ? l.planned.use + x * (l.planned.use - l.cooler.use)
                   : l.planned.use + x * (l.warmer.use - l.planned.use);
  };
  lives_.resize(draws);
  for (std::size_t i = 0; i < draws; ++i) {
    const auto& x = u[i];
    const double K = priors.temperature_spread_K * normal_quantile(x[2]);
    const double activation = between(priors.activation_low, priors.activation_high, x[3]);
    const bool field = x[4] < priors.field_weight;
    Life& life = lives_[i];
    life.cell = x[7];
    if (field) {
      const double rate =
          std::max(0.05, priors.field_rate + priors.field_spread * normal_quantile(x[5]));
      life.exponent = between(priors.field_exponent_low, priors.field_exponent_high, x[6]);
      life.anchor_years = field_years;
      life.loss = rate / 100.0 * field_years * against(c, 0.0, activation, life.exponent, field_C);
    } else {
      life.exponent = exponent_of(priors.exponent_low, priors.exponent_high, x[6]);
      life.anchor_years = anchor_days / 365.25;
      const double mix = x[0],
                   storage = mix * schimpe.planned.storage + (1.0 - mix) * naumann.planned.storage,
                   use = mix * use_at(schimpe, K) + (1.0 - mix) * use_at(naumann, K);
      life.loss = (storage * against(c, K, activation, life.exponent, 25.0) + std::max(0.0, use)) *
                  std::exp(spread * normal_quantile(x[1]));
    }
  }
  weight_.assign(draws, 1.0 / double(draws));
}

std::vector<double> Band::weaknesses(const Group& group) const {
  std::vector<double> factor(lives_.size(), 1.0);
  if (group.series <= 1 && group.parallel <= 1) return factor;
  for (std::size_t i = 0; i < factor.size(); ++i) factor[i] = weakness(i, group);
  return factor;
}

double Band::weakness(std::size_t draw, const Group& group) const {
  if (group.series <= 1 && group.parallel <= 1) return 1.0;
  // The largest of n losses: its probability is that of one, to the n-th power.
  const double one =
      std::pow(std::clamp(lives_[draw].cell, 1e-9, 1.0 - 1e-9), 1.0 / double(group.series));
  return std::exp(cell_spread_ / std::sqrt(double(group.parallel)) *
                  normal_quantile(std::min(one, 1.0 - 1e-12)));
}

double Band::capacity_at(std::size_t draw, double years, double weakness) const {
  const Life& l = lives_[draw];
  if (years <= 0.0) return 1.0;
  return std::max(0.0, 1.0 - l.loss * weakness * std::pow(years / l.anchor_years, l.exponent));
}

double Band::capacity(std::size_t draw, double years, const Group& group) const {
  return capacity_at(draw, years, weakness(draw, group));
}

void Band::update(std::span<const CapacityRecord> records, const Group& group) {
  words_.clear();
  widened_ = 1.0;
  weight_.assign(lives_.size(), 1.0 / double(lives_.size()));
  std::vector<CapacityRecord> used;
  for (const CapacityRecord& r : records) {
    CHECK(r.spread >= 0.0);
    if (r.years <= 0.0) {
      words_.push_back(
          fmt::format("a record at {:g} years says nothing of ageing; left out", r.years));
      continue;
    }
    if (r.share > 1.0 + 2.0 * std::hypot(r.spread, wander_))
      words_.push_back(
          fmt::format("after {:g} years {:.1f} % of new: more than when new; either the first "
                      "measurement was low or new cells gained, and the band takes it as it is",
                      r.years, 100.0 * r.share));
    used.push_back(r);
  }
  if (used.empty()) return;
  std::vector<double> misfit(lives_.size(), 0.0);
  const std::vector<double> weak = weaknesses(group);
  for (std::size_t i = 0; i < lives_.size(); ++i)
    for (const CapacityRecord& r : used) {
      const double off = (r.share - capacity_at(i, r.years, weak[i])) /
                         std::max(1e-6, std::hypot(r.spread, wander_));
      misfit[i] += 0.5 * off * off;
    }
  const double least = *std::min_element(misfit.begin(), misfit.end());
  for (int round = 0; round < 200; ++round) {
    double sum = 0.0, squares = 0.0;
    for (std::size_t i = 0; i < lives_.size(); ++i) {
      weight_[i] = std::exp(-(misfit[i] - least) / (widened_ * widened_));
      sum += weight_[i], squares += weight_[i] * weight_[i];
    }
    for (double& w : weight_) w /= sum;
    if (sum * sum / squares >= std::min(least_draws, 0.5 * double(lives_.size()))) break;
    widened_ *= 1.15;
  }
  if (widened_ > 2.0)
    words_.push_back(fmt::format(
        "the record lies where hardly a life was drawn: its uncertainty was taken {:.1f} times as "
        "wide; look at how it was measured",
        widened_));
}

Interval Band::interval_of(std::vector<double> values) const {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return values[a] < values[b] || (values[a] == values[b] && a < b);
  });
  const auto at = [&](double share) {
    double below = 0.0;
    for (const std::size_t i : order) {
      below += weight_[i];
      if (below >= share) return values[i];
    }
    return values[order.back()];
  };
  return {at(0.1), at(0.5), at(0.9)};
}

Interval Band::at(double years, const Group& group) const {
  std::vector<double> values = weaknesses(group);
  for (std::size_t i = 0; i < values.size(); ++i) values[i] = capacity_at(i, years, values[i]);
  return interval_of(std::move(values));
}

std::vector<Interval> Band::by_year(int years, const Group& group) const {
  std::vector<Interval> all;
  const std::vector<double> weak = weaknesses(group);
  for (int y = 0; y <= years; ++y) {
    std::vector<double> values = weak;
    for (std::size_t i = 0; i < values.size(); ++i)
      values[i] = capacity_at(i, double(y), values[i]);
    all.push_back(interval_of(std::move(values)));
  }
  return all;
}

double Band::odds_below(double share, double years, const Group& group) const {
  double odds = 0.0;
  const std::vector<double> weak = weaknesses(group);
  for (std::size_t i = 0; i < lives_.size(); ++i)
    if (capacity_at(i, years, weak[i]) < share) odds += weight_[i];
  return odds;
}

Interval Band::years_until(double share, double furthest, const Group& group) const {
  CHECK(share > 0.0 && share < 1.0);
  std::vector<double> values = weaknesses(group);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const Life& l = lives_[i];
    values[i] = std::min(furthest, l.anchor_years * std::pow((1.0 - share) / (l.loss * values[i]),
                                                             1.0 / l.exponent));
  }
  return interval_of(std::move(values));
}

std::vector<std::size_t> Band::pick(std::size_t count) const {
  // The draws lie in a random order already: steps through the sum of weights.
  std::vector<std::size_t> picked;
  picked.reserve(count);
  double sum = 0.0;
  std::size_t i = 0;
  for (std::size_t k = 0; k < count; ++k) {
    const double wanted = (double(k) + 0.5) / double(count);
    while (i + 1 < weight_.size() && sum + weight_[i] < wanted) sum += weight_[i++];
    picked.push_back(i);
  }
  return picked;
}

}  // namespace life
