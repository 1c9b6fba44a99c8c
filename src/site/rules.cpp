// SPDX-License-Identifier: Apache-2.0
#include "site/rules.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"
#include "base/small_random.hpp"
#include "site/dispatch.hpp"

namespace site {
namespace {

/// What is kept from one making of a rule to the next.
Rules like(const Rules& rules, Rules::Kind kind) {
  Rules made;
  made.kind = kind;
  made.error_sd = rules.error_sd, made.seed = rules.seed;
  made.export_kW = rules.export_kW, made.import_kW = rules.import_kW;
  made.day_charge_kW = rules.day_charge_kW;
  made.horizon_h = rules.horizon_h;
  return made;
}

/// How far `shift` fills and keeps, from the last step back: what is needed at a step's start is
/// what the next needs, more by what dear hours take, less by what the sun or cheap hours give.
Levels levels_of(const Year& year, const Prices& prices, const Store& store, const Rules& rules) {
  const std::size_t n = year.steps();
  const double dt = year.step_h, in = (1.0 - store.charging.share_at(0.5)) * dt,
               out = (1.0 + store.discharging.share_at(0.5)) * dt;
  const double low = std::min(store.reserve_kWh, store.usable_kWh);
  const std::vector<double>&load =
            rules.expected_load_kW.empty() ? year.load_kW : rules.expected_load_kW,
        &solar = rules.expected_solar_kW.empty() ? year.solar_kW : rules.expected_solar_kW;
  Levels l;
  l.keep_kWh.resize(n), l.fill_to_kWh.resize(n), l.fill_steps.resize(n);
  double needed = low, fill_to = low;
  std::size_t left = 0;
  for (std::size_t i = n; i-- > 0;) {
    const double net = solar[i] - load[i] - store.standby_kW, price = prices.buy[i];
    const bool cheap = price <= rules.cheap_price;
    if (cheap && left == 0) fill_to = needed;
    left = cheap ? std::min<std::size_t>(left + 1, 65535) : 0;
    l.fill_steps[i] = std::uint16_t(left), l.fill_to_kWh[i] = fill_to;
    l.keep_kWh[i] = cheap ? fill_to : price > rules.worth_price ? low : needed;
    if (net > 0.0)
      needed = std::max(low, needed - std::min(net, store.charge_kW) * in);
    else if (cheap)
      needed = std::max(low, needed - std::min(store.charge_kW, rules.import_kW) * in);
    else if (price > rules.worth_price)
      needed = std::min(store.usable_kWh, needed + std::min(-net, store.discharge_kW) * out);
  }
  return l;
}

}  // namespace

void expect(Rules& rules, const Year& year) {
  rules.expected_load_kW.clear(), rules.expected_solar_kW.clear();
  if (rules.error_sd <= 0.0) return;
  const std::size_t n = year.steps(), a_day = year.steps_a_day();
  base::SmallRandom random(rules.seed);
  rules.expected_load_kW = year.load_kW, rules.expected_solar_kW = year.solar_kW;
  for (std::size_t from = 0; from < n; from += a_day) {
    const double factor = std::max(0.0, 1.0 + rules.error_sd * random.normal());
    for (std::size_t i = from; i < std::min(n, from + a_day); ++i) {
      rules.expected_solar_kW[i] *= factor;
      if (from < 7 * a_day) continue;
      double sum = 0.0;
      for (std::size_t week = 1; week <= 7; ++week) sum += year.load_kW[i - week * a_day];
      rules.expected_load_kW[i] = sum / 7.0;
    }
  }
}

Rules shifting(const Year& year, const Prices& prices, const Store& store, double wear_price,
               const Rules& rules) {
  Rules made = like(rules, Rules::Kind::shift);
  made.cheap_price = *std::min_element(prices.buy.begin(), prices.buy.end());
  const double in = 1.0 - store.charging.k1 - store.charging.k2,
               out = 1.0 / (1.0 + store.discharging.k1 + store.discharging.k2);
  // A price that never moves pays for no round trip.
  if (*std::max_element(prices.buy.begin(), prices.buy.end()) * in * out <= made.cheap_price) {
    made.kind = Rules::Kind::self_use;
    return made;
  }
  made.worth_price = made.cheap_price / (in * out) + wear_price;
  expect(made, year);
  made.levels = levels_of(year, prices, store, made);
  return made;
}

Rules following(const Year& year, const Rules& rules, Rules::Kind kind) {
  CHECK(kind == Rules::Kind::follow || kind == Rules::Kind::ahead);
  Rules made = like(rules, kind);
  made.plan_h = kind == Rules::Kind::follow ? 24.0 : std::max(1.0, year.step_h);
  expect(made, year);
  return made;
}

std::string_view name(Rules::Kind kind) {
  switch (kind) {
    case Rules::Kind::shift:
      return "shift";
    case Rules::Kind::shave:
      return "shave";
    case Rules::Kind::follow:
      return "follow";
    case Rules::Kind::ahead:
      return "ahead";
    case Rules::Kind::timer:
      return "timer";
    case Rules::Kind::self_use:
      break;
  }
  return "self-use";
}

Rules::Kind rule_named(std::string_view wanted) {
  const auto* const found = std::find_if(std::begin(rule_kinds), std::end(rule_kinds),
                                         [&](Rules::Kind kind) { return name(kind) == wanted; });
  CHECK(found != std::end(rule_kinds));
  return *found;
}

Rules remade(const Rules& rules, const Year& year, const Prices& prices, const Store& store) {
  switch (rules.kind) {
    case Rules::Kind::self_use:
      break;
    case Rules::Kind::shift:
      return shifting(year, prices, store, 0.0, rules);
    case Rules::Kind::shave: {
      Rules made = like(rules, Rules::Kind::shave);
      made.shave_kW = lowest_limit_kW(year, store);
      return made;
    }
    case Rules::Kind::follow:
    case Rules::Kind::ahead:
      return following(year, rules, rules.kind);
    case Rules::Kind::timer: {
      Rules made = like(rules, Rules::Kind::timer);
      made.levels = rules.levels;
      for (auto* levels : {&made.levels.keep_kWh, &made.levels.fill_to_kWh})
        for (double& kWh : *levels) kWh = std::min(kWh, store.usable_kWh);
      return made;
    }
  }
  return like(rules, Rules::Kind::self_use);
}

}  // namespace site
