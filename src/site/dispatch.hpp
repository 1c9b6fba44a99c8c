// SPDX-License-Identifier: Apache-2.0
// A store at the house through a year: by rules that know no future, and what comes of it.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "site/year.hpp"

namespace site {

/// What a converter and the cells behind it lose at a power p of its rating: rated · (k0 + k1·p +
/// k2·p²). [SchmidtSauer1996] for the inverter; the cells' resistance adds to k2.
struct Loss {
  double k0 = 0.0, k1 = 0.0, k2 = 0.0;
  /// The same share at every power: of what leaves, `efficiency` arrives.
  [[nodiscard]] static Loss charging(double efficiency) { return {0.0, 1.0 - efficiency, 0.0}; }
  [[nodiscard]] static Loss discharging(double efficiency) {
    return {0.0, 1.0 / efficiency - 1.0, 0.0};
  }
};
/// The three that give these efficiencies at a tenth, a half and the whole of the rating, exactly.
[[nodiscard]] Loss loss_through(double at_tenth, double at_half, double at_full);

struct Store {
  double usable_kWh = 10.0;                    ///< between empty and full as they are set
  double charge_kW = 5.0, discharge_kW = 5.0;  ///< at the house's side; ratings of the losses too
  Loss charging = Loss::charging(0.95), discharging = Loss::discharging(0.95);
  double standby_kW = 0.0;   ///< that converter and BMS draw from the house, always
  double reserve_kWh = 0.0;  ///< kept for an outage
  double start_kWh = 0.0;
};

struct Rules {
  enum class Kind {
    self_use,  ///< surplus in, deficit out
    shift,     ///< besides, from the grid while it is cheap, and out only where that pays
    shave,     ///< out above a limit of import, in below it
    follow     ///< as `shift`, with prices of each day as they were forecast
  } kind = Kind::self_use;
  double shave_kW = 0.0;     ///< limit of import, for `shave`
  double cheap_price = 0.0;  ///< at or below it the grid fills the store, for `shift`
  double worth_price = 0.0;  ///< above it the store gives, for `shift`
  double error_sd = 0.0;     ///< of a forecast, for `follow`
  unsigned seed = 1;
  std::vector<double> expected_price;        ///< of each step, for `follow`
  std::vector<double> day_cheap, day_worth;  ///< of each day, for `follow`
  std::vector<double> day_charge_kW;         ///< what the cold allows on each day; empty: all
  double export_kW = 1e9;  ///< the grid takes no more; the rest of the sun is curtailed
  double import_kW = 1e9;  ///< the grid gives no more to the store
};
/// For `shift` on a tariff: cheap is its lowest price; giving pays above that over the round trip,
/// plus what a kilowatt-hour out wears. [Luthander2015] for the rule's form
[[nodiscard]] Rules shifting(const Prices& prices, const Store& store, double wear_price);

/// For `follow`: each day's prices are known the day before with an error of so much (standard
/// deviation, share of the prices' own; seeded), and so is its surplus of sun, share of itself. As
/// many of the cheapest steps are cheap as give what the dear ones will take and the sun does not;
/// dear is what pays for the round trip. Without such a step the day is left to self-use.
[[nodiscard]] Rules following(const Year& year, const Prices& prices, const Store& store,
                              double error_sd, unsigned seed);

/// "self-use", "shift", "shave", "follow".
[[nodiscard]] std::string_view name(Rules::Kind kind);
inline constexpr Rules::Kind rule_kinds[] = {Rules::Kind::self_use, Rules::Kind::shift,
                                             Rules::Kind::shave, Rules::Kind::follow};
/// Requires one of the names.
[[nodiscard]] Rules::Kind rule_named(std::string_view name);

/// A rule of that kind made for a year, its prices and a store: thresholds, the lowest limit, the
/// days' plans. Limits of the connection and of the cold, and what is known of the forecast, stay.
[[nodiscard]] Rules remade(const Rules& rules, const Year& year, const Prices& prices,
                           const Store& store);

struct Outcome {
  double load_kWh = 0.0, solar_kWh = 0.0, import_kWh = 0.0, export_kWh = 0.0, curtailed_kWh = 0.0;
  double charge_kWh = 0.0, discharge_kWh = 0.0;             ///< at the house's side
  double inside_out_kWh = 0.0;                              ///< taken from the cells
  double end_kWh = 0.0, standby_kWh = 0.0, import_h = 0.0;  ///< hours in which the grid gives
  double peak_import_kW = 0.0;
  double cost = 0.0;  ///< import less export, demand and standing charges
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
/// Deterministic; no allocation.
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
