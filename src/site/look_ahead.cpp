// SPDX-License-Identifier: Apache-2.0
#include "site/look_ahead.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"

namespace site {
namespace {

/// Share of its rating at which a plan takes the converter to run.
constexpr double usual_share = 0.4;
/// From this hour on the next day's prices are known (common practice of day-ahead markets, no
/// source).
constexpr double prices_known_h = 13.0;

}  // namespace

LookAhead::LookAhead(const Year& year, const Prices& prices, const Store& store, const Rules& rules)
    : year_(year),
      prices_(prices),
      store_(store),
      rules_(rules),
      eta_in_(1.0 - store.charging.share_at(usual_share)),
      by_eta_out_(1.0 + store.discharging.share_at(usual_share)),
      a_day_(year.steps_a_day()),
      plan_steps_(std::max<std::size_t>(1, std::size_t(rules.plan_h / year.step_h + 0.5))),
      horizon_(std::max<std::size_t>(1, std::size_t(rules.horizon_h / year.step_h + 0.5))) {
  CHECK(rules.expected_load_kW.empty() || rules.expected_load_kW.size() == year.steps());
}

StepAtHouse LookAhead::expected(std::size_t step, std::size_t made, double month_peak_kW) const {
  std::size_t priced = step, seen = step;
  if (!rules_.expected_load_kW.empty()) {
    // The day's own prices are known, the next day's from the afternoon on; then the last known
    // day comes again. Sun and load are expected for this day and the next.
    const std::size_t known_days =
        double(made % a_day_) * year_.step_h >= prices_known_h ? made / a_day_ + 1 : made / a_day_;
    while (priced / a_day_ > known_days) priced -= a_day_;
    while (seen / a_day_ > made / a_day_ + 1) seen -= a_day_;
  }
  StepAtHouse s;
  s.dt_h = year_.step_h;
  s.used_kW = (rules_.expected_load_kW.empty() ? year_.load_kW : rules_.expected_load_kW)[seen] +
              store_.standby_kW;
  s.solar_kW = (rules_.expected_solar_kW.empty() ? year_.solar_kW : rules_.expected_solar_kW)[seen];
  s.buy = s.buy_dear = prices_.buy[priced], s.sell = prices_.sell[priced];
  s.export_kW = rules_.export_kW;
  s.charge_kW = store_.charge_kW, s.discharge_kW = store_.discharge_kW;
  if (!rules_.day_charge_kW.empty())
    s.charge_kW = std::min(s.charge_kW, rules_.day_charge_kW[step / a_day_]);
  // The house itself takes what it needs; the limit is the store's.
  s.import_kW = std::max(0.0, s.needed_kW()) + std::min(rules_.import_kW, s.charge_kW);
  s.import_dear_kW = s.import_kW;
  s.eta_in = eta_in_, s.by_eta_out = by_eta_out_;
  if (prices_.demand_kW_month > 0.0) {
    s.import_dear_kW = std::min(month_peak_kW, s.import_kW);
    s.buy_dear = s.buy + prices_.demand_kW_month / s.dt_h;
  }
  return s;
}

void LookAhead::plan(std::size_t step, double charge_kWh, double month_peak_kW) {
  PathLimits limits;
  limits.low_kWh = std::min({store_.reserve_kWh, store_.usable_kWh, charge_kWh});
  limits.high_kWh = std::max(store_.usable_kWh, charge_kWh);
  limits.start_kWh = charge_kWh;
  planned_from_ = step, planned_to_ = std::min(step + plan_steps_, year_.steps());
  if (plan_steps_ % a_day_ == 0)  // at midnight
    planned_to_ = std::min((step / a_day_) * a_day_ + plan_steps_, year_.steps());
  const std::size_t end = std::min(step + horizon_, year_.steps());
  // What is left at the end will save a kWh bought at the lowest price, hardly less.
  double lowest = 1e300;
  steps_.clear();
  for (std::size_t i = step; i < end; ++i) {
    steps_.push_back(step_cost(expected(i, step, month_peak_kW)));
    lowest = std::min(lowest, prices_.buy[i]);
  }
  limits.end_worth = end == year_.steps() ? 0.0 : std::max(0.0, 0.98 * lowest / by_eta_out_);
  planner_.start(limits);
  for (const StepCost& h : steps_) CHECK(planner_.add(h));
  double cost = 0.0;
  CHECK(planner_.finish(&cost));
  planner_.trace(held_);
  (void)planner_.worth(held_, worth_);
}

double LookAhead::wanted_kW(std::size_t step, double charge_kWh, double month_peak_kW) {
  if (step >= planned_to_ || step < planned_from_ || planned_to_ == 0)
    plan(step, charge_kWh, month_peak_kW);
  const std::size_t k = step - planned_from_;
  StepAtHouse s = expected(step, planned_from_, month_peak_kW);
  // The step itself is seen as it comes.
  s.used_kW = year_.load_kW[step] + store_.standby_kW, s.solar_kW = year_.solar_kW[step];
  s.import_kW = std::max(0.0, s.needed_kW()) + std::min(rules_.import_kW, s.charge_kW);
  if (prices_.demand_kW_month <= 0.0) s.import_dear_kW = s.import_kW;
  const StepCost h = step_cost(s);
  const double worth = worth_[k], near = 1e-9 * (1.0 + std::abs(worth)),
               planned = held_[k] - charge_kWh;
  // Sun that costs as much to keep as to sell is kept where the forecast may be wrong.
  const double sun = rules_.expected_load_kW.empty()
                         ? 0.0
                         : std::clamp(-s.needed_kW(), 0.0, s.charge_kW) * eta_in_ * year_.step_h;
  double x = h.low_kWh;
  for (std::size_t j = 0; j < h.pieces; ++j) {
    const Piece& p = h.piece[j];
    if (p.slope < worth - near)
      x += p.kWh;
    else if (p.slope <= worth + near)
      x += std::clamp((sun > 0.0 ? std::max(planned, sun) : planned) - x, 0.0, p.kWh);
    else
      break;
  }
  return x / year_.step_h / (x > 0.0 ? eta_in_ : by_eta_out_);
}

}  // namespace site
