// SPDX-License-Identifier: Apache-2.0
// Choose, once the house's year is known: what a kilowatt-hour out of each offer's cells costs over
// their life, and which assumption would turn the ranking.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "works/reckonings.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

using base::Figure;
using base::Json;

/// What may be otherwise than assumed; factors on what the project says.
struct Shift {
  double cycles = 1.0, rated_cycles = 1.0, shelf = 1.0, rate = 1.0, price = 1.0, rejects = 1.0;
};

Json inputs_of(const Project& p, const Plan& plan, const OfferResult& r, const Shift& shift) {
  const Offer& o = r.offer;
  const auto own = [](double given, double usual) { return given > 0.0 ? given : usual; };
  const double rated = own(o.rated_capacity_Ah, p.cell.rated_capacity.in(base::units::Ah)),
               volts = own(o.nominal_V, p.cell.nominal.in(base::units::V)),
               depth = own(o.depth_percent / 100.0, p.use.depth()),
               rejects = std::min(0.95, p.order.reject_percent() / 100.0 * shift.rejects),
               kWh = rated * volts / 1000.0 * o.quantity * (1.0 - rejects);
  return {{"investment", r.total.value},
          {"usable_kWh", kWh},
          {"depth", depth},
          {"round_trip_percent", own(o.round_trip_percent, p.use.round_trip_percent())},
          {"cycles_year", use_of(p, plan).cycles_a_year / depth * shift.cycles},
          {"rated_cycles", own(o.rated_cycles, p.cell.rated_cycles()) * shift.rated_cycles},
          {"shelf_years", own(o.shelf_years, p.use.years()) * shift.shelf},
          {"end_percent", p.use.end_percent()},
          {"rate_percent", p.use.rate_percent() * shift.rate},
          {"energy_price", p.use.energy_price() * shift.price}};
}

/// A kilowatt-hour out of each offer's cells.
std::vector<double> costs_of(const Project& p, const Plan& plan, const Shift& shift) {
  std::vector<double> costs;
  for (const OfferResult& r : plan.offers)
    costs.push_back(reckon("lifetime-cost", inputs_of(p, plan, r, shift), "per_kWh").value);
  return costs;
}

std::size_t cheapest(const std::vector<double>& costs) {
  return std::size_t(std::min_element(costs.begin(), costs.end()) - costs.begin());
}

/// What the project says with one assumption at so many times.
Shift shifted(double Shift::*member, double factor) {
  Shift shift;
  shift.*member = factor;
  return shift;
}

struct Knob {
  const char* words;
  double Shift::*member;
};
constexpr Knob knobs[] = {{"cycles a year", &Shift::cycles},
                          {"rated cycles", &Shift::rated_cycles},
                          {"years that cells last unused", &Shift::shelf},
                          {"yearly rate", &Shift::rate},
                          {"price of a kWh charged", &Shift::price},
                          {"cells that are not good enough", &Shift::rejects}};

/// The cheapest of the others less the best, a kilowatt-hour out.
double margin_of(const Project& p, const Plan& plan, std::size_t best, const Shift& shift) {
  std::vector<double> costs = costs_of(p, plan, shift);
  const double own = costs[best];
  costs.erase(costs.begin() + std::ptrdiff_t(best));
  return *std::min_element(costs.begin(), costs.end()) - own;
}

/// How far it stays ahead with each assumption at half and at double, the widest first.
void find_margins(const Project& p, Plan& plan, std::size_t best) {
  plan.margin = margin_of(p, plan, best, {});
  for (const Knob& knob : knobs)
    plan.margins.push_back({knob.words, margin_of(p, plan, best, shifted(knob.member, 0.5)),
                            margin_of(p, plan, best, shifted(knob.member, 2.0))});
  std::sort(plan.margins.begin(), plan.margins.end(), [](const Margin& a, const Margin& b) {
    return std::abs(a.high - a.low) > std::abs(b.high - b.low);
  });
}

/// The nearest factor, down to a third and up to three times, at which another offer is cheapest.
void find_turns(const Project& p, Plan& plan, std::size_t best) {
  constexpr int steps = 60;
  for (const Knob& knob : knobs) {
    const auto turned = [&](double factor) {
      const std::size_t other = cheapest(costs_of(p, plan, shifted(knob.member, factor)));
      if (other != best) plan.turns.push_back({knob.words, factor, plan.offers[other].offer.name});
      return other != best;
    };
    for (int k = 1; k <= steps; ++k)
      if (const double up = std::pow(3.0, double(k) / steps); turned(1.0 / up) || turned(up)) break;
  }
}

}  // namespace

void cost_over_life(const Project& p, Plan& plan) {
  if (plan.offers.empty()) return;
  const std::string currency = p.about.currency();
  if (use_of(p, plan).cycles_a_year < 1.0) {
    plan.choose.sentence +=
        " The house hardly cycles the bank: what a kilowatt-hour out costs says nothing here.";
    return;
  }
  for (OfferResult& r : plan.offers) {
    const Json inputs = inputs_of(p, plan, r, {});
    Figure f = reckon("lifetime-cost", inputs, "per_kWh");
    f.unit = currency + "/kWh";
    f.basis =
        "cells alone, landed, those expected to be good; what is not said of the offer is as the "
        "project's cell and use, shelf life as the horizon";
    r.per_kWh_out = std::move(f);
    r.life_years = reckon("lifetime-cost", inputs, "years").value;
  }
  const std::size_t best = cheapest(costs_of(p, plan, {}));
  const OfferResult& winner = plan.offers[best];
  plan.choose.figures.push_back(
      {"least_per_kWh_out",
       "a kilowatt-hour out of the cheapest cells, over life (" + winner.offer.name + ")",
       winner.per_kWh_out});
  if (plan.offers.size() < 2) return;
  find_margins(p, plan, best);
  find_turns(p, plan, best);
  plan.choose.sentence += fmt::format(
      " Over its life “{}” gives the cheapest kilowatt-hour out, {} {} in {:.0f} years",
      winner.offer.name, base::show_value(winner.per_kWh_out), currency, winner.life_years);
  if (plan.turns.empty()) {
    plan.choose.sentence +=
        ", and stays so with any one of cycles, life, rate, price or rejects three times smaller "
        "or larger.";
    return;
  }
  const auto nearest =
      std::min_element(plan.turns.begin(), plan.turns.end(), [](const Turn& a, const Turn& b) {
        return std::abs(std::log(a.factor)) < std::abs(std::log(b.factor));
      });
  plan.choose.sentence += fmt::format("; at {:.2f} times the {} “{}” would be.", nearest->factor,
                                      nearest->what, nearest->then);
}

}  // namespace works::steps
