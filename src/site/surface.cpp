// SPDX-License-Identifier: Apache-2.0
#include "site/surface.hpp"

#include <algorithm>
#include <atomic>

#include "base/check.hpp"
#include "base/side_by_side.hpp"

namespace site {
namespace {

double parabola(const std::array<double, 3>& at, const std::array<double, 3>& y, double x) {
  const double a = (x - at[1]) * (x - at[2]) / ((at[0] - at[1]) * (at[0] - at[2])),
               b = (x - at[0]) * (x - at[2]) / ((at[1] - at[0]) * (at[1] - at[2])),
               c = (x - at[0]) * (x - at[1]) / ((at[2] - at[0]) * (at[2] - at[1]));
  return a * y[0] + b * y[1] + c * y[2];
}

}  // namespace

SavingSurface::SavingSurface(const Year& year, const Prices& prices, const Store& store,
                             const Rules& rules, const Life& life,
                             const std::function<bool(double)>& keep_going) {
  CHECK(life.nominal_kWh > 0.0);
  nodes_.resize(capacities.size() * loads.size() * suns.size());
  std::atomic<std::size_t> done = 0;
  std::atomic<bool> stop = false;
  base::side_by_side(loads.size() * suns.size(), [&](std::size_t k) {
    if (stop) return;
    const std::size_t l = k / suns.size(), s = k % suns.size();
    Year other = year;
    for (double& kW : other.load_kW) kW *= loads[l];
    for (double& kW : other.solar_kW) kW *= suns[s];
    Store none = store;
    none.usable_kWh = none.charge_kW = none.discharge_kW = none.standby_kW = none.reserve_kWh = 0.0;
    none.start_kWh = 0.0;
    Rules plain;
    plain.export_kW = rules.export_kW;
    const Outcome without = dispatch(other, &prices, none, plain);
    const auto bought = [&](const Outcome& o) { return o.cost + o.got - o.demand_cost; };
    for (std::size_t c = 0; c < capacities.size() && !stop; ++c) {
      Store aged = store;
      aged.usable_kWh = life.usable_kWh(capacities[c]);
      aged.start_kWh = std::min(aged.start_kWh, aged.usable_kWh);
      const Outcome with = dispatch(other, &prices, aged, remade(rules, other, prices, aged));
      nodes_[(c * loads.size() + l) * suns.size() + s] = {
          bought(without) - bought(with), with.got - without.got,
          without.demand_cost - with.demand_cost, with.inside_out_kWh / life.nominal_kWh};
    }
    if (keep_going && !keep_going(double(++done) / double(loads.size() * suns.size()))) stop = true;
  });
  stopped_ = stop;
}

Saving SavingSurface::at(double capacity, double load, double sun) const {
  capacity = std::clamp(capacity, capacities.front(), capacities.back());
  load = std::clamp(load, loads.front(), loads.back());
  sun = std::clamp(sun, suns.front(), suns.back());
  std::size_t c = 0;
  while (c + 2 < capacities.size() && capacity > capacities[c + 1]) ++c;
  const double share = (capacity - capacities[c]) / (capacities[c + 1] - capacities[c]);
  const auto part = [&](double Saving::*what) {
    std::array<double, 3> by_load{};
    for (std::size_t l = 0; l < loads.size(); ++l) {
      std::array<double, 3> by_sun{};
      for (std::size_t s = 0; s < suns.size(); ++s)
        by_sun[s] = (1.0 - share) * (node(c, l, s).*what) + share * (node(c + 1, l, s).*what);
      by_load[l] = parabola(suns, by_sun, sun);
    }
    return parabola(loads, by_load, load);
  };
  return {part(&Saving::bought), part(&Saving::sold), part(&Saving::peaks), part(&Saving::cycles)};
}

}  // namespace site
