// SPDX-License-Identifier: Apache-2.0
#include "site/best_path.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <gtest/gtest.h>

namespace {

using site::PathLimits;
using site::PathPlanner;
using site::StepAtHouse;
using site::StepCost;

StepAtHouse drawn(std::mt19937_64& engine) {
  const auto u = [&] { return double(engine() >> 11) * 0x1.0p-53; };
  StepAtHouse s;
  s.used_kW = 3.0 * u(), s.solar_kW = u() < 0.5 ? 0.0 : 5.0 * u();
  s.buy = u() - 0.3, s.sell = u() < 0.2 ? 0.0 : u() - 0.3;
  s.buy_dear = s.buy;
  if (u() < 0.3) s.import_dear_kW = 2.0 * u(), s.buy_dear = s.buy + u();
  if (u() < 0.3) s.export_kW = 2.0 * u();
  if (u() < 0.3) s.import_kW = 3.0 * u();
  s.import_dear_kW = std::min(s.import_dear_kW, s.import_kW);
  s.charge_kW = u() < 0.2 ? 0.0 : 4.0 * u(), s.discharge_kW = u() < 0.1 ? 0.0 : 4.0 * u();
  s.eta_in = 0.8 + 0.2 * u(), s.by_eta_out = 1.0 / (0.8 + 0.2 * u());
  if (u() < 0.1) s.eta_in = s.by_eta_out = 1.0;
  return s;
}

TEST(StepCost, is_what_its_powers_cost_and_they_keep_every_limit) {
  std::mt19937_64 engine(5);
  for (int k = 0; k < 20000; ++k) {
    const StepAtHouse s = drawn(engine);
    const StepCost h = site::step_cost(s);
    if (!h.feasible) continue;
    double x = h.low_kWh, cost = h.at_low;
    for (std::size_t j = 0; j <= 2 * h.pieces; ++j) {
      if (j > 0) {
        const site::Piece& p = h.piece[(j - 1) / 2];
        x += 0.5 * p.kWh, cost += 0.5 * p.kWh * p.slope;
      }
      const site::StepFlows f = site::step_flows(s, x);
      ASSERT_NEAR(f.cost, cost, 1e-9) << k;
      const double thrown =
          f.import_kW - f.export_kW - f.charge_kW + f.discharge_kW - s.needed_kW();
      ASSERT_GE(thrown, -1e-9) << k;
      ASSERT_LE(thrown, s.solar_kW + 1e-9) << k;
      ASSERT_NEAR((f.charge_kW * s.eta_in - f.discharge_kW * s.by_eta_out) * s.dt_h, x, 1e-9) << k;
      ASSERT_LE(f.charge_kW, s.charge_kW + 1e-9) << k;
      ASSERT_LE(f.discharge_kW, s.discharge_kW + 1e-9) << k;
      ASSERT_LE(f.import_kW, s.import_kW + 1e-9) << k;
      ASSERT_LE(f.export_kW, std::min(s.export_kW, s.solar_kW) + 1e-9) << k;
    }
    for (std::size_t j = 1; j < h.pieces; ++j)
      ASSERT_GT(h.piece[j].slope, h.piece[j - 1].slope) << k;
  }
}

/// By trying every way on a grid of charges. Costs and lengths of whole grid steps, so that the
/// best way lies on the grid.
double by_trying(const std::vector<StepCost>& steps, const PathLimits& limits, double grid) {
  const double none = std::numeric_limits<double>::infinity();
  const auto count = std::size_t(std::lround((limits.high_kWh - limits.low_kWh) / grid)) + 1;
  std::vector<double> value(count, none), next(count);
  value[std::size_t(std::lround((limits.start_kWh - limits.low_kWh) / grid))] = 0.0;
  for (const StepCost& h : steps) {
    std::fill(next.begin(), next.end(), none);
    for (std::size_t from = 0; from < count; ++from) {
      if (value[from] == none) continue;
      long to = long(from) + std::lround(h.low_kWh / grid);
      double cost = h.at_low;
      const auto reach = [&] {
        if (to >= 0 && to < long(count))
          next[std::size_t(to)] = std::min(next[std::size_t(to)], value[from] + cost);
      };
      reach();
      for (std::size_t k = 0; k < h.pieces; ++k)
        for (long i = std::lround(h.piece[k].kWh / grid); i > 0; --i)
          ++to, cost += h.piece[k].slope * grid, reach();
    }
    value.swap(next);
  }
  if (limits.closed)
    return value[std::size_t(std::lround((limits.start_kWh - limits.low_kWh) / grid))];
  double best = none;
  for (std::size_t i = 0; i < count; ++i)
    best = std::min(best, value[i] - limits.end_worth * (limits.low_kWh + double(i) * grid));
  return best;
}

TEST(PathPlanner, is_as_good_as_trying_every_way) {
  std::mt19937_64 engine(9);
  const auto whole = [&](int most) { return int(engine() % std::uint64_t(most + 1)); };
  constexpr double grid = 0.25;
  PathPlanner planner;
  for (int k = 0; k < 500; ++k) {
    PathLimits limits;
    limits.low_kWh = grid * whole(4), limits.high_kWh = limits.low_kWh + grid * (1 + whole(20));
    limits.start_kWh = limits.low_kWh + grid * whole(1);
    limits.closed = whole(2) == 0;
    limits.end_worth = whole(1) == 0 ? 0.0 : 0.1 * whole(5);
    std::vector<StepCost> steps(std::size_t(1 + whole(30)));
    for (StepCost& h : steps) {
      h.low_kWh = -grid * whole(6), h.at_low = 0.1 * whole(10);
      double slope = -0.2;
      for (int j = whole(4); j >= 0; --j)
        slope += 0.1 * (1 + whole(3)), h.add(slope, grid * whole(4));
    }
    planner.start(limits);
    bool possible = true;
    for (const StepCost& h : steps) possible = possible && planner.add(h);
    double cost = 0.0;
    possible = possible && planner.finish(&cost);
    const double tried = by_trying(steps, limits, grid);
    ASSERT_EQ(possible, std::isfinite(tried)) << k;
    if (!possible) continue;
    ASSERT_NEAR(cost, tried, 1e-9) << k;
    // The way costs as much, and the prices that support it say so without it.
    std::vector<double> held, worth;
    planner.trace(held);
    (void)planner.worth(held, worth);
    double E = limits.start_kWh, along = 0.0;
    for (std::size_t i = 0; i < steps.size(); ++i) {
      const StepCost& h = steps[i];
      double x = held[i] - E - h.low_kWh, spent = h.at_low, least = h.at_low - worth[i] * h.low_kWh;
      double best = least, at = h.low_kWh, value = h.at_low;
      ASSERT_GT(x, -1e-9) << k;
      for (std::size_t j = 0; j < h.pieces; ++j) {
        const double part = std::clamp(x, 0.0, h.piece[j].kWh);
        spent += part * h.piece[j].slope, x -= part;
        at += h.piece[j].kWh, value += h.piece[j].kWh * h.piece[j].slope;
        best = std::min(best, value - worth[i] * at);
      }
      ASSERT_NEAR(spent - worth[i] * (held[i] - E), best, 1e-9) << k;  // no change is better
      along += spent, E = held[i];
    }
    ASSERT_NEAR(along - (limits.closed ? 0.0 : limits.end_worth * E), cost, 1e-9) << k;
  }
}

}  // namespace
