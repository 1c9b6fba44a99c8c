// SPDX-License-Identifier: Apache-2.0
// Thousands of futures of the chosen bank by the chosen rule: what may come, and what each risk
// takes away.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "life/band.hpp"
#include "site/surface.hpp"

namespace site {

struct Band {
  double low = 0.0, middle = 0.0, high = 0.0;  ///< a tenth, a half, nine tenths lie below
};

/// What is drawn. Each can be left out; its figures are judgement but where a source is named.
enum class Risk {
  weather,      ///< bright and dull years
  yield,        ///< what the panels really give
  load,         ///< how much the house uses, and how that grows
  price,        ///< level, growth and moves of the price of buying
  feed_in,      ///< what selling brings
  tariff,       ///< another tariff that takes part of the saving
  electronics,  ///< the inverter's end
  failure,      ///< a pack that fails early
  ageing        ///< `life::Band`
};
inline constexpr Risk all_risks[] = {Risk::weather,     Risk::yield,   Risk::load,
                                     Risk::price,       Risk::feed_in, Risk::tariff,
                                     Risk::electronics, Risk::failure, Risk::ageing};
[[nodiscard]] const char* words(Risk risk);

struct Futures {
  int count = 1000;
  unsigned seed = 1;
  double capital = 0.0, upkeep = 0.0, rate = 0.03;  ///< rate a year, over inflation
  double factor = 1.0;                              ///< on every saving: tax
  double end_value = 0.0;
  double replace_years = 0.0,
         replace_cost = 0.0;  ///< planned by the builder; then nothing is drawn
  // Spreads are standard deviations. Growth a year is `Life::load_growth` and `price_growth`.
  double sun_sd = 0.06;                          ///< of a year's sun
  double yield_bias = -0.03, yield_sd = 0.07;    ///< of all years' sun, as a share
  double load_sd = 0.10, load_growth_sd = 0.01;  ///< level; rate of growth
  double price_sd = 0.05, price_growth_sd = 0.02,
         price_moves_sd = 0.05;  ///< moves from year to year
  double sell_sd = 0.20;         ///< of the price of selling, all years
  double tariff_hazard = 0.03, tariff_low = 0.10, tariff_high = 0.50;  ///< a year; part taken
  double electronics_years = 12.0, electronics_years_sd = 3.0;
  double electronics_low = 700.0, electronics_high = 1600.0;
  double failure_hazard = 0.004;  ///< a year, of a pack beyond mending by a spare
  double failure_share = 0.25;    ///< of the capital, to mend it
  life::Priors priors;
  life::Group group;                 ///< the bank's weakest: groups in series, cells in parallel
  const life::Band* band = nullptr;  ///< the one life of all steps; none: made from the priors
  std::vector<Risk> left_out;
  bool each_risk = false;   ///< play each alone and all but each, too
  std::size_t threads = 0;  ///< 0: all cores. The answer is the same for any
};

/// One line of what was assumed, to stand beside the share that pays.
struct Assumption {
  std::string what, value;
};
struct RiskTaken {
  Risk risk;
  double pays_alone = 0.0, pays_without = 0.0;    ///< only this drawn; all but this
  double value_alone = 0.0, value_without = 0.0;  ///< medians
};
struct FutureBands {
  std::vector<Band> capacity, saving;  ///< by year, of those that live on
  std::vector<Band> ageing;            ///< capacity after 0 to n years, of all, whatever its end
  std::vector<double> odds_below_end;  ///< after 0 to n years, that it is below `Life::end_share`
  bool stopped = false;                ///< told to stop: nothing else here is meant
  Band value, end_year;           ///< present value of it all; when capacity ends, or the horizon
  double pays = 0.0;              ///< share of futures with a value above zero
  double value_as_planned = 0.0;  ///< with nothing drawn but the middle of the ageing
  std::vector<RiskTaken> risks;   ///< where they were asked for
  std::vector<Assumption> assumptions;
};

/// Each future lives year by year: capacity by a drawn life, saving by the chosen rule through a
/// `SavingSurface` (with its charge for peaks), prices, load and sun as drawn, until `life.years`
/// or the capacity's end. The same future meets the same chance in each risk whatever else is drawn
/// or left out. `keep_going` is told from any core what share is done; where it says no, the rest
/// is left. A surface that was made may be given, so that an edit of money alone takes no year.
[[nodiscard]] FutureBands play_futures(const Year& year, const Prices& prices, const Store& store,
                                       const Rules& rules, const Life& life, const Futures& futures,
                                       const std::function<bool(double)>& keep_going = {});
[[nodiscard]] FutureBands play_futures(const SavingSurface& surface, const life::Band& band,
                                       const Life& life, const Futures& futures);

}  // namespace site
