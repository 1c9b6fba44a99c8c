// SPDX-License-Identifier: Apache-2.0
#include "site/optimum.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "site/cutting_planes.hpp"

namespace site {
namespace {

/// The lowest price of power at the house at which what is offered meets what is asked, where a kWh
/// held is worth `worth`: supply and demand are steps, so one of their prices is it.
double house_price(const StepAtHouse& s, double worth) {
  const double in = worth * s.eta_in, out = worth * s.by_eta_out;
  const double sold = std::max(0.0, std::min(s.export_kW, s.solar_kW));
  std::array<double, 6> prices = {s.sell, 0.0, s.buy, s.buy_dear, in, out};
  std::sort(prices.begin(), prices.end());
  for (const double v : prices) {
    double offered = -sold - s.solar_kW, asked = s.needed_kW();
    if (s.sell <= v) offered += sold;
    if (v >= 0.0) offered += s.solar_kW;
    if (s.buy <= v) offered += s.import_dear_kW;
    if (s.buy_dear <= v) offered += s.import_kW - s.import_dear_kW;
    if (v < in) asked += s.charge_kW;
    if (v >= out) asked -= s.discharge_kW;
    if (offered >= asked - 1e-9) return v;
  }
  return s.buy_dear;
}

/// A year to be planned, again and again where months' peaks are sought.
class Planned {
 public:
  Planned(const Year& year, const Prices& prices, const Store& store, const BoundOptions& options)
      : year_(year), prices_(prices), store_(store), options_(options) {
    limits_.low_kWh =
        std::min({store.reserve_kWh, store.usable_kWh, std::max(store.start_kWh, 0.0)});
    limits_.high_kWh = std::max(0.0, store.usable_kWh);
    limits_.start_kWh = store.start_kWh;
    limits_.closed = options.closed;
    if (prices.demand_kW_month > 0.0) {
      int last = -1;
      for (std::size_t i = 0; i < year.steps(); ++i) {
        const int m = clock_of(year, i).month;
        months_ += m != last, last = m;
        month_of_.push_back(months_ - 1);
      }
    }
  }
  [[nodiscard]] std::size_t months() const { return months_; }
  [[nodiscard]] std::size_t month_of(std::size_t i) const { return month_of_[i]; }
  [[nodiscard]] const PathLimits& limits() const { return limits_; }

  [[nodiscard]] StepAtHouse step(std::size_t i, const std::vector<double>* peak_kW) const {
    StepAtHouse s;
    s.dt_h = year_.step_h;
    s.used_kW = year_.load_kW[i] + store_.standby_kW, s.solar_kW = year_.solar_kW[i];
    s.buy = s.buy_dear = prices_.buy[i], s.sell = prices_.sell[i];
    s.import_kW = s.import_dear_kW = options_.import_kW, s.export_kW = options_.export_kW;
    s.charge_kW = store_.charge_kW, s.discharge_kW = store_.discharge_kW;
    if (!options_.from_grid) s.charge_kW = std::min(s.charge_kW, std::max(0.0, -s.needed_kW()));
    if (!options_.day_charge_kW.empty())
      s.charge_kW = std::min(s.charge_kW, options_.day_charge_kW[i / year_.steps_a_day()]);
    s.eta_in = 1.0 - store_.charging.k1, s.by_eta_out = 1.0 + store_.discharging.k1;
    if (peak_kW != nullptr) {
      // Above the month's peak it costs at once what a higher peak would: never less.
      s.import_dear_kW = (*peak_kW)[month_of_[i]];
      s.buy_dear = s.buy + prices_.demand_kW_month / s.dt_h;
    }
    return s;
  }

  /// The least cost without standing charges. False where no way serves the year.
  bool plan(PathPlanner& planner, const std::vector<double>* peak_kW, bool way,
            double* cost) const {
    planner.start(limits_);
    for (std::size_t i = 0; i < year_.steps(); ++i) {
      const StepCost h = step_cost(step(i, peak_kW));
      if (!(way ? planner.add(h) : planner.add_cost_only(h))) return false;
    }
    return planner.finish(cost);
  }

  /// Puts a way back into every step's balance. Returns what it costs as planned.
  double put_back(Bound& b, const std::vector<double>* peak_kW, std::vector<double>* peaks) const {
    double E = limits_.start_kWh, planned = 0.0;
    E = std::clamp(E, limits_.low_kWh, limits_.high_kWh);
    b.cost = prices_.standing_year;
    b.import_kWh = b.export_kWh = b.charge_kWh = b.discharge_kWh = 0.0;
    if (peaks != nullptr) peaks->assign(months_, 0.0);
    for (std::size_t i = 0; i < year_.steps(); ++i) {
      const StepAtHouse s = step(i, peak_kW);
      const StepFlows f = step_flows(s, b.held_kWh[i] - E);
      E = b.held_kWh[i];
      planned += f.cost;
      b.cost += (f.import_kW * s.buy - f.export_kW * s.sell) * s.dt_h;
      b.import_kWh += f.import_kW * s.dt_h, b.export_kWh += f.export_kW * s.dt_h;
      b.charge_kWh += f.charge_kW * s.dt_h, b.discharge_kWh += f.discharge_kW * s.dt_h;
      if (peaks != nullptr) (*peaks)[month_of_[i]] = std::max((*peaks)[month_of_[i]], f.import_kW);
    }
    if (peaks != nullptr)
      for (const double kW : *peaks) b.cost += kW * prices_.demand_kW_month;
    return planned;
  }

  /// How the cost of a plan changes with each month's peak, by the worth of a kWh held.
  void slopes(const Bound& b, const std::vector<double>& peak_kW,
              std::vector<double>& slope) const {
    slope.assign(months_, 0.0);
    for (std::size_t i = 0; i < year_.steps(); ++i) {
      const StepAtHouse s = step(i, &peak_kW);
      slope[month_of_[i]] -=
          std::clamp(house_price(s, b.kWh_worth[i]) - s.buy, 0.0, s.buy_dear - s.buy) * s.dt_h;
    }
  }

 private:
  const Year& year_;
  const Prices& prices_;
  const Store& store_;
  const BoundOptions& options_;
  PathLimits limits_;
  std::size_t months_ = 0;
  std::vector<std::size_t> month_of_;
};

constexpr const char* no_way =
    "the connection is too weak for the load, or the store cannot end as asked";

/// Months' peaks by cutting planes; between the planes' lowest point and the best so far.
Bound with_peaks(const Planned& y, double demand, double standing, const BoundOptions& options,
                 std::size_t steps) {
  Bound best, b;
  PathPlanner planner;
  const std::vector<double> none(y.months(), options.import_kW);
  double energy = 0.0;
  if (!y.plan(planner, &none, true, &energy)) {
    best.words = no_way;
    return best;
  }
  planner.trace(b.held_kWh);
  std::vector<double> peaks, at = none, slope, high(y.months(), 0.0);
  (void)y.put_back(b, &none, &peaks);
  (void)planner.worth(b.held_kWh, b.kWh_worth);
  // No more can flow than what is needed while the store fills and all sun is sold or thrown away.
  for (std::size_t i = 0; i < steps; ++i) {
    const StepAtHouse s = y.step(i, nullptr);
    const double sold = std::max(0.0, std::min(s.export_kW, s.solar_kW));
    double& most = high[y.month_of(i)];
    most = std::max(most, std::min(options.import_kW, s.used_kW + s.charge_kW + sold));
  }
  best = b;
  std::vector<double> best_at = peaks;
  CuttingPlanes planes(demand, high, energy);
  double lowest = energy + standing, share = 0.5;
  double gross = 1e-9;
  for (std::size_t i = 0; i < steps; ++i) {
    const StepAtHouse s = y.step(i, nullptr);
    gross += std::abs(s.buy) * std::max(0.0, s.needed_kW()) * s.dt_h;
  }
  int rounds = 1;
  for (; rounds < options.most_iterations; ++rounds) {
    if (!planes.solve()) break;
    lowest = std::max(lowest, planes.lowest() + standing);
    if (best.cost - lowest <= 1e-9 * gross) break;
    for (std::size_t m = 0; m < at.size(); ++m)
      at[m] = std::clamp(share * planes.at()[m] + (1.0 - share) * best_at[m], 0.0, high[m]);
    if (!y.plan(planner, &at, true, &energy)) break;
    planner.trace(b.held_kWh);
    (void)planner.worth(b.held_kWh, b.kWh_worth);
    (void)y.put_back(b, &at, &peaks);
    y.slopes(b, at, slope);
    planes.add(at, energy, slope);
    // A plane that does not cut off the lowest point: go there itself.
    double there = energy;
    for (std::size_t m = 0; m < at.size(); ++m)
      there += slope[m] * (planes.at()[m] - at[m]) + demand * planes.at()[m];
    const bool better = b.cost < best.cost;
    share = there + standing > lowest + 1e-12 * gross || better ? 0.5 : 1.0;
    if (better) best = b, best_at = peaks;
  }
  best.iterations = rounds;
  best.gap = std::max(0.0, best.cost - lowest);
  best.status = best.gap <= 1e-6 * gross ? Bound::Status::optimal : Bound::Status::too_long;
  if (best.status == Bound::Status::too_long)
    best.words = fmt::format("months' peaks not settled after {} plans", rounds);
  return best;
}

}  // namespace

Bound optimum(const Year& year, const Prices& prices, const Store& store,
              const BoundOptions& options) {
  const std::size_t n = year.steps();
  CHECK(prices.buy.size() == n && prices.sell.size() == n && year.solar_kW.size() == n);
  const Planned y(year, prices, store, options);
  if (y.months() > 0)
    return with_peaks(y, prices.demand_kW_month, prices.standing_year, options, n);
  Bound b;
  b.iterations = 1;
  PathPlanner planner;
  double cost = 0.0;
  if (!y.plan(planner, nullptr, options.way, &cost)) {
    b.words = no_way;
    return b;
  }
  b.status = Bound::Status::optimal;
  b.cost = cost + prices.standing_year;
  if (!options.way) return b;
  planner.trace(b.held_kWh);
  b.next_usable_kWh = planner.worth(b.held_kWh, b.kWh_worth);
  const double planned = y.put_back(b, nullptr, nullptr);
  double turned = 1.0;
  for (std::size_t i = 0; i < n; ++i)
    turned += std::abs(prices.buy[i]) * std::max(0.0, year.load_kW[i]) * year.step_h;
  CHECK(std::abs(planned - cost) < 1e-7 * turned,
        fmt::format("a best year of {:g} whose way costs {:g}", cost, planned));
  return b;
}

}  // namespace site
