// SPDX-License-Identifier: Apache-2.0
// Rules by which a store is run, made for a year, its prices and the store.
#pragma once

#include <cstdint>
#include <string_view>
#include <vector>

#include "site/store.hpp"
#include "site/year.hpp"

namespace site {

/// For each step: the charge down to which the store gives, and where it fills from the grid, the
/// charge that is to be reached when the filling ends and how many steps are left for it.
struct Levels {
  std::vector<double> keep_kWh, fill_to_kWh;
  std::vector<std::uint16_t> fill_steps;  ///< 0: no filling from the grid
};

struct Rules {
  enum class Kind {
    self_use,  ///< surplus in, deficit out
    shift,     ///< besides, from the grid while it is cheapest, as much as the sun will leave
    shave,     ///< out above a limit of import, in below it
    follow,    ///< the best way over two days of a forecast, planned at each midnight
    ahead,     ///< the same, planned again after each hour
    timer      ///< fills and keeps by the clock, month by month
  } kind = Kind::self_use;
  double shave_kW = 0.0;     ///< limit of import, for `shave`
  double cheap_price = 0.0;  ///< at or below it the grid fills the store, for `shift`
  double worth_price = 0.0;  ///< above it the store gives whatever comes, for `shift`
  Levels levels;             ///< for `shift` and `timer`
  /// Of a day's sun, as a share of itself (standard deviation). 0: the year is known as it comes.
  double error_sd = 0.0;
  unsigned seed = 1;
  std::vector<double> expected_load_kW, expected_solar_kW;  ///< empty: as they come
  double plan_h = 24.0;               ///< after how long `follow` and `ahead` plan again
  double horizon_h = 48.0;            ///< how far they look
  std::vector<double> day_charge_kW;  ///< what the cold allows on each day; empty: all
  double export_kW = 1e9;             ///< the grid takes no more; the rest of the sun is curtailed
  double import_kW = 1e9;             ///< the grid gives no more to the store
};

/// What a day before lets expect: of the load the mean of the same hours of the seven days before
/// (the first week: its own), of the sun each day's true course times 1 + an error of the day. With
/// no error both are left empty.
void expect(Rules& rules, const Year& year);

/// For `shift` on a tariff: cheap is its lowest price; giving pays above that over the round trip,
/// plus what a kilowatt-hour out wears. [Luthander2015] for the rule's form. Before dear hours the
/// store holds what they will take less what the sun will give, by `expect`, and no more; it fills
/// evenly over the cheap hours. Self-use where nothing is worth a round trip. `like`: its forecast
/// and limits are kept.
[[nodiscard]] Rules shifting(const Year& year, const Prices& prices, const Store& store,
                             double wear_price, const Rules& like = {});

/// For `follow` and `ahead`: how they see the next two days. Prices of the day are known; those of
/// the next from 13 h on, before that they are taken to be the day's own.
[[nodiscard]] Rules following(const Year& year, const Rules& like, Rules::Kind kind);

/// "self-use", "shift", "shave", "follow", "ahead", "timer".
[[nodiscard]] std::string_view name(Rules::Kind kind);
inline constexpr Rules::Kind rule_kinds[] = {Rules::Kind::self_use, Rules::Kind::shift,
                                             Rules::Kind::shave, Rules::Kind::follow,
                                             Rules::Kind::ahead};
/// Requires one of the names in `rule_kinds`.
[[nodiscard]] Rules::Kind rule_named(std::string_view name);

/// A rule of that kind made for a year, its prices and a store: thresholds, levels, the lowest
/// limit. Limits of the connection and of the cold, and what is known of the forecast, stay. A
/// `timer` keeps its levels, cut to the store.
[[nodiscard]] Rules remade(const Rules& rules, const Year& year, const Prices& prices,
                           const Store& store);

}  // namespace site
