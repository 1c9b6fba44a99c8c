// SPDX-License-Identifier: Apache-2.0
// Plans the next two days again and again, and says in each step what the store should do.
#pragma once

#include <cstddef>
#include <vector>

#include "site/best_path.hpp"
#include "site/rules.hpp"

namespace site {

/// The best way by `PathPlanner` from the charge as it is, over `horizon_h` of what is expected. In
/// a step the store does all that costs less than a kWh held is worth by the plan, nothing that
/// costs more, and where both are equal goes to the charge that was planned. Knows nothing of later
/// steps but the forecast. Where months' peaks are paid, import above the month's peak so far is
/// taken to cost as much as a higher peak in every step, which is cautious.
class LookAhead {
 public:
  LookAhead(const Year& year, const Prices& prices, const Store& store, const Rules& rules);
  /// The power wanted in a step at the house's side, from `charge_kWh` (out of the store below
  /// zero); steps in ascending order.
  [[nodiscard]] double wanted_kW(std::size_t step, double charge_kWh, double month_peak_kW);

 private:
  void plan(std::size_t step, double charge_kWh, double month_peak_kW);
  /// As it was expected `lead` steps before, on the day of which a plan was made at `made`.
  [[nodiscard]] StepAtHouse expected(std::size_t step, std::size_t made,
                                     double month_peak_kW) const;

  const Year& year_;
  const Prices& prices_;
  const Store& store_;
  const Rules& rules_;
  double eta_in_, by_eta_out_;
  std::size_t a_day_, plan_steps_, horizon_;
  std::size_t planned_from_ = 0, planned_to_ = 0;
  PathPlanner planner_;
  std::vector<StepCost> steps_;
  std::vector<double> held_, worth_;
};

}  // namespace site
