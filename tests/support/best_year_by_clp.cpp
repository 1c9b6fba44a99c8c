// SPDX-License-Identifier: Apache-2.0
// The best year as a linear programme (dual simplex): what the exact way is held against.
#include "tests/support/best_year_by_clp.hpp"

#include <cmath>

#include <ClpSimplex.hpp>
#include <fmt/format.h>

#include "base/check.hpp"

namespace support {

using site::Bound;
using site::BoundOptions;
using site::Prices;
using site::Store;
using site::Year;

Bound best_year_by_clp(const Year& year, const Prices& prices, const Store& store,
                       const BoundOptions& options) {
  const std::size_t n = year.steps();
  CHECK(prices.buy.size() == n && prices.sell.size() == n && year.solar_kW.size() == n);
  const double dt = year.step_h, eta_in = 1.0 - store.charging.k1,
               by_eta_out = 1.0 + store.discharging.k1;
  const double floor_kWh = std::min(store.reserve_kWh, store.usable_kWh);
  // Columns by step: import, export, charge, discharge, charge at its end; months' peaks last.
  // Rows by step: the house's balance (with curtailment: at most), the store's.
  constexpr int per = 5;
  std::vector<int> month_of;
  int months = 0;
  if (prices.demand_kW_month > 0.0) {
    int last = -1;
    for (std::size_t i = 0; i < n; ++i) {
      const int m = site::clock_of(year, i).month;
      if (m != last) ++months, last = m;
      month_of.push_back(months - 1);
    }
  }
  const int steps = static_cast<int>(n), columns = per * steps + months,
            rows = 2 * steps + (months > 0 ? steps : 0);
  std::vector<int> start, row;
  std::vector<double> element, low(std::size_t(columns), 0.0), high(std::size_t(columns), 0.0),
      cost(std::size_t(columns), 0.0);
  const auto put = [&](int r, double x) { row.push_back(r), element.push_back(x); };
  for (int i = 0; i < steps; ++i) {
    const auto k = std::size_t(i);
    const auto column = [&](double most, double price) {
      const std::size_t at = start.size();
      start.push_back(static_cast<int>(row.size()));
      high[at] = most, cost[at] = price;
    };
    const double solar = year.solar_kW[k];
    column(options.import_kW, prices.buy[k] * dt);
    put(i, 1.0);
    if (months > 0) put(2 * steps + i, 1.0);
    column(std::min(options.export_kW, solar), -prices.sell[k] * dt);
    put(i, -1.0);
    const double surplus = std::max(0.0, solar - year.load_kW[k] - store.standby_kW);
    column(std::min(store.charge_kW, options.from_grid ? store.charge_kW : surplus), 0.0);
    put(i, -1.0), put(steps + i, -eta_in * dt);
    column(store.discharge_kW, 0.0);
    put(i, 1.0), put(steps + i, by_eta_out * dt);
    column(store.usable_kWh, 0.0);
    low[std::size_t(per * i + 4)] = std::min(floor_kWh, std::max(store.start_kWh, 0.0));
    put(steps + i, 1.0);
    if (i + 1 < steps) put(steps + i + 1, -1.0);
  }
  if (options.closed)
    low[std::size_t(per * (steps - 1) + 4)] = high[std::size_t(per * (steps - 1) + 4)] =
        store.start_kWh;
  for (int m = 0; m < months; ++m) {
    high[start.size()] = options.import_kW, cost[start.size()] = prices.demand_kW_month;
    start.push_back(static_cast<int>(row.size()));
    for (int i = 0; i < steps; ++i)
      if (month_of[std::size_t(i)] == m) put(2 * steps + i, -1.0);
  }
  start.push_back(static_cast<int>(row.size()));
  std::vector<double> row_low(std::size_t(rows), 0.0), row_high(std::size_t(rows), 0.0);
  for (int i = 0; i < steps; ++i) {
    const auto k = std::size_t(i);
    const double used = year.load_kW[k] + store.standby_kW;
    // import − export − charge + discharge = load − solar, and more where the sun is curtailed.
    row_low[k] = used - year.solar_kW[k];
    row_high[k] = used;
    row_low[std::size_t(steps + i)] = row_high[std::size_t(steps + i)] =
        i == 0 ? std::clamp(store.start_kWh, 0.0, store.usable_kWh) : 0.0;
    if (months > 0) row_low[std::size_t(2 * steps + i)] = -COIN_DBL_MAX;
  }
  ClpSimplex solver;
  solver.setLogLevel(0);
  solver.setPrimalTolerance(1e-9), solver.setDualTolerance(1e-9);
  solver.loadProblem(columns, rows, start.data(), row.data(), element.data(), low.data(),
                     high.data(), cost.data(), row_low.data(), row_high.data());
  solver.dual();
  Bound b;
  b.iterations = solver.numberIterations();
  if (solver.status() == 3) {
    b.status = Bound::Status::too_long;
    b.words = fmt::format("not settled after {} iterations", b.iterations);
    return b;
  }
  if (solver.status() != 0) {
    b.words = "the connection is too weak for the load, or the store cannot end as asked";
    return b;
  }
  // The solver's word is not enough: put its answer back into the balance.
  const double* const x = solver.getColSolution();
  double E = std::clamp(store.start_kWh, 0.0, store.usable_kWh), worst = 0.0;
  double peaks = 0.0;
  for (int i = 0; i < steps; ++i) {
    const double* const v = x + std::ptrdiff_t(per) * i;
    const auto k = std::size_t(i);
    const double given = v[0] - v[1] - v[2] + v[3],
                 needed = year.load_kW[k] + store.standby_kW - year.solar_kW[k];
    worst = std::max(worst, needed - given);
    E += (v[2] * eta_in - v[3] * by_eta_out) * dt;
    worst = std::max(worst, std::abs(E - v[4]) * 1e-2);  // sums of many small steps
    b.cost += (v[0] * prices.buy[k] - v[1] * prices.sell[k]) * dt;
    b.import_kWh += v[0] * dt, b.export_kWh += v[1] * dt;
    b.charge_kWh += v[2] * dt, b.discharge_kWh += v[3] * dt;
  }
  for (int m = 0; m < months; ++m) peaks += x[per * steps + m];
  b.cost += peaks * prices.demand_kW_month + prices.standing_year;
  CHECK(worst < 1e-4, fmt::format("a bound that breaks its balance by {:g}", worst));
  b.status = Bound::Status::optimal;
  return b;
}

}  // namespace support
