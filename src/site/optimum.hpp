// SPDX-License-Identifier: Apache-2.0
// The best that any rule could have done, had it known the year beforehand.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "site/best_path.hpp"
#include "site/dispatch.hpp"

namespace site {

struct Bound {
  enum class Status { optimal, too_long, impossible } status = Status::impossible;
  double cost = 0.0;  ///< as in `Outcome`
  double import_kWh = 0.0, export_kWh = 0.0, charge_kWh = 0.0, discharge_kWh = 0.0;
  int iterations = 0;             ///< how often the year was planned: once where no peak is paid
  double gap = 0.0;               ///< with paid peaks: no way costs less than `cost - gap`
  std::vector<double> held_kWh;   ///< at the end of every step
  std::vector<double> kWh_worth;  ///< what a kWh held at the end of every step is worth
  double next_usable_kWh = 0.0;   ///< what one more usable kWh would take from the cost
  std::string words;              ///< where there is none: why
};

struct BoundOptions {
  bool from_grid = true;                       ///< the grid may fill the store
  bool closed = false;                         ///< the charge at the end is that of the start
  double import_kW = 50.0, export_kW = 50.0;   ///< the connection's limits: without them negative
                                               ///< prices have no end
  std::span<const double> day_charge_kW = {};  ///< what the cold allows on each day; empty: all
  bool way = true;                             ///< false: the cost alone, in half the time
  int most_iterations = 400;                   ///< of the search for the months' peaks
};

/// The least cost over import, export, charge, discharge and charge of every step, exact for
/// constant efficiencies (k1 of the losses), by `PathPlanner`. Selling dearer than buying, or
/// negative prices, would let it charge and discharge at once; the bound stays a bound. Standby,
/// reserve and start as in the store. The way is put back into the balance of every step and must
/// cost what the plan says. Where months' peaks are paid they are searched for outside by cutting
/// planes (the cost is convex in them) until the gap is a billionth of what is bought.
[[nodiscard]] Bound optimum(const Year& year, const Prices& prices, const Store& store,
                            const BoundOptions& options = {});

}  // namespace site
