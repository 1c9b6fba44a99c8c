// SPDX-License-Identifier: Apache-2.0
// The years after the first: a store that ages cycles deeper, and gives less.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "life/band.hpp"
#include "life/wear.hpp"
#include "site/dispatch.hpp"

namespace site {

/// A store as it is bought, and how it is used.
struct Life {
  double nominal_kWh = 10.0;                     ///< between empty and full, when new
  double low_charge = 0.10, high_charge = 0.95;  ///< the window it works in
  std::array<double, 12> cells_C = {};           ///< mean of each month
  life::Law law = life::Law::naumann;
  int years = 20;
  double load_growth = 0.0, price_growth = 0.0;    ///< a year, over inflation
  double charge_rate = 0.5, discharge_rate = 1.0;  ///< of the capacity an hour, at most
  [[nodiscard]] double window() const { return high_charge - low_charge; }
  /// At a share of the capacity when new.
  [[nodiscard]] double usable_kWh(double capacity = 1.0) const {
    return nominal_kWh * capacity * window();
  }
  double end_share = 0.7;  ///< of the capacity when new: then it is replaced
};

struct YearOfLife {
  int year = 1;
  double capacity = 1.0;  ///< share of new at its start
  double full_cycles = 0.0, depth = 0.0, mean_charge = 0.0, c_rate = 0.0;
  double import_kWh = 0.0, export_kWh = 0.0, discharge_kWh = 0.0, self_sufficiency = 0.0;
  double cost = 0.0, cost_without = 0.0;
  [[nodiscard]] double saving() const { return cost_without - cost; }
};
/// Year by year: this year's use wears the store by the law, month by month at its temperature;
/// next year is played with what is left. Depths by rainflow [ASTM-E1049]. `store.usable_kWh` is
/// set from `life`. Ends after `years`, or with the year in which capacity falls below `end_share`.
[[nodiscard]] std::vector<YearOfLife> live(const Year& year, const Prices& prices,
                                           const Store& store, const Rules& rules,
                                           const Life& life);

/// One size of a sweep.
struct SizePoint {
  double nominal_kWh = 0.0;
  Outcome outcome;
  double saving = 0.0;                ///< a year, of the first
  double next_kWh_saving = 0.0;       ///< what the next kilowatt-hour would save a year
  std::optional<double> best_saving;  ///< that no rule can beat, by `put_bounds`
};
/// Every size with the rule; the rule is made anew for each; powers grow with the size up to the
/// store's own. Requires sizes that
/// ascend, from 0 on.
[[nodiscard]] std::vector<SizePoint> sweep(const Year& year, const Prices& prices,
                                           const Store& store, const Rules& rules, const Life& life,
                                           const std::vector<double>& sizes_kWh);

/// The best year with perfect foresight beside every size: the store, limits and efficiencies of
/// the sweep (a bank's no-load and square losses are left out, so it stays a bound). Empty where
/// there is none. A year of quarter hours takes some 3 ms a size; with paid peaks up to a second
/// and more.
void put_bounds(std::vector<SizePoint>& points, const Year& year, const Prices& prices,
                const Store& store, const Rules& rules, const Life& life);

/// How the cells are kept and used in the first year by this rule: what `life::Band` asks for.
[[nodiscard]] life::Conditions conditions_of(const Year& year, const Prices& prices,
                                             const Store& store, const Rules& rules,
                                             const Life& life);

/// The same year in hours.
[[nodiscard]] Year hourly(const Year& year);
[[nodiscard]] Prices hourly(const Prices& prices, double step_h);

}  // namespace site
