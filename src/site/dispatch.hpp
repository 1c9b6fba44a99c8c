// SPDX-License-Identifier: Apache-2.0
// A store at the house through a year: by rules that know no future, and what comes of it.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "site/rules.hpp"
#include "site/store.hpp"
#include "site/year.hpp"

namespace site {

struct Outcome {
  double load_kWh = 0.0, solar_kWh = 0.0, import_kWh = 0.0, export_kWh = 0.0, curtailed_kWh = 0.0;
  double charge_kWh = 0.0, discharge_kWh = 0.0;             ///< at the house's side
  double inside_out_kWh = 0.0;                              ///< taken from the cells
  double end_kWh = 0.0, standby_kWh = 0.0, import_h = 0.0;  ///< hours in which the grid gives
  double peak_import_kW = 0.0;
  double cost = 0.0;                    ///< import less export, demand and standing charges
  double got = 0.0, demand_cost = 0.0;  ///< of it: for export, for months' peaks
  double full_cycles = 0.0;
  [[nodiscard]] double self_sufficiency() const {
    const double used = load_kWh + standby_kWh;
    return used > 0.0 ? 1.0 - import_kWh / used : 0.0;
  }
  /// Of the sun's energy, what was not exported or curtailed.
  [[nodiscard]] double self_consumption() const {
    return solar_kWh > 0.0 ? 1.0 - (export_kWh + curtailed_kWh) / solar_kWh : 0.0;
  }
};
/// One year. `charge_kWh`, if given, takes the store's charge at the end of every step.
/// Deterministic; no allocation but for the rules that plan ahead, which need prices.
[[nodiscard]] Outcome dispatch(const Year& year, const Prices* prices, const Store& store,
                               const Rules& rules, std::vector<double>* charge_kWh = nullptr);

/// What the same year costs without a store and without its standby.
[[nodiscard]] double cost_without(const Year& year, const Prices& prices, double export_kW = 1e9);

/// The lowest limit of import that the store can hold through the year, to a watt.
[[nodiscard]] double lowest_limit_kW(const Year& year, const Store& store);

/// How long a full store (or one that holds its reserve only) carries `load_kW` without sun or
/// grid, by where it starts: the worst and the median start, hours to the step.
struct Autonomy {
  double worst_h = 0.0, median_h = 0.0;
  std::size_t worst_step = 0;
};
[[nodiscard]] Autonomy autonomy(const Year& year, const Store& store, double held_kWh,
                                bool with_sun);

/// Self-use of eight stores at once on the same year, each with its own load, sun, usable energy
/// and limits: what a sweep and thousands of futures need. Constant efficiencies.
struct Lanes {
  static constexpr std::size_t width = 8;
  double load[width], solar[width];  ///< factors
  double usable_kWh[width], charge_kW[width], discharge_kW[width];
  double standby_kW = 0.0, export_kW = 1e9;    ///< of all
  double charging[width], discharging[width];  ///< efficiencies
  // Comes out:
  double import_kWh[width], export_kWh[width], discharge_kWh[width];
  double saving_buy[width], lost_sell[width];  ///< against no store, where prices are given
};
void self_use(const Year& year, Lanes& lanes, const Prices* prices = nullptr);

}  // namespace site
