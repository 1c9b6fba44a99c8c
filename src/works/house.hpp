// SPDX-License-Identifier: Apache-2.0
// The year at the house and the years after, as a project tells them.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "base/json.hpp"
#include "findings/finding.hpp"
#include "project/views.hpp"
#include "site/futures.hpp"
#include "site/off_grid.hpp"
#include "site/optimum.hpp"
#include "site/years.hpp"

namespace works {

using project::Project, project::File;

struct Plan;

/// Where chance is asked for, the same answers come every time.
inline constexpr unsigned house_seed = 20250101;

struct HouseStudy {
  site::Year year;
  site::Prices prices;
  site::Store store;
  site::Rules rules;
  site::Life life;
  std::vector<double> cells_day_C;              ///< by day of the year
  std::string load_from, sun_from, price_from;  ///< in words
  site::Outcome without, with_store;
  std::vector<site::SizePoint> sizes;
  double cells_per_kWh = 0.0;  ///< the chosen offer over the bank's energy when new
  double knee_kWh = 0.0;       ///< the size that is worth most over its cells; 0 where none is
  std::optional<site::LossOfLoad> off_grid;  ///< without a grid
  double off_grid_kWh = 0.0;                 ///< nominal, that loses no more than is allowed
  site::Autonomy outage;  ///< from what is kept, or full where nothing is, at the outage's power
  std::vector<site::YearOfLife> harsh, mild;  ///< by two laws, a year past the horizon
  int served = 0;                             ///< years of it until the harsher law's end
  int cold_days = 0;                          ///< on which the cells may not be charged
  double capital = 0.0;                       ///< landed and the rest, less what somebody else pays
  bool priced = false;                        ///< an offer is chosen
  std::vector<double> flows;                  ///< by year, the harsher law
  double value = 0.0;                         ///< present, of those
  std::optional<double> payback_years, internal_rate;
  double naive_payback_years = 0.0;  ///< every day a full cycle at the dearest price, no losses
  std::vector<findings::Finding> findings;
};
/// Nothing where the project does not say what the house uses, what a kilowatt-hour costs, or
/// where its panels stand. Needs the plan's offers, cells and arrangement. Throws InputError that
/// names line and column of a series that cannot be read.
[[nodiscard]] std::optional<HouseStudy> house_study(const Project& project, const Plan& plan);
[[nodiscard]] bool has_grid(const Project& project);
/// By one of [tariff] buy, tariff.csv and prices.csv.
[[nodiscard]] bool says_price(const Project& project);

/// What the first year brings, as lines: without the bank (nothing where that says nothing), with
/// it.
struct YearLine {
  std::string what;
  std::optional<double> without;
  double with = 0.0;
  std::string unit;
  int decimals = 0;
};
[[nodiscard]] std::vector<YearLine> year_lines(const HouseStudy& study,
                                               const std::string& currency);

/// Lives the years again after something in the study was changed, and values them.
void put_years(HouseStudy& study);
void put_best_size(const Project& project, HouseStudy& study,
                   const std::vector<site::SizePoint>& sizes);
void put_value(const Project& project, HouseStudy& study, double rate);

/// What a run of the futures needs.
/// `keep_going` as play_futures takes it.
[[nodiscard]] site::FutureBands futures(const Project& project, const HouseStudy& study, int count,
                                        const std::function<bool(double)>& keep_going = {});
/// The best year by linear programme, in hours, and what the rule gets of it.
struct Foresight {
  site::Bound bound;
  double without = 0.0, rule = 0.0;                   ///< costs of the same hours
  std::vector<std::pair<std::string, double>> rules;  ///< what every rule would pay
  /// Share of the best saving that the rule gets.
  [[nodiscard]] double share() const { return share(rule); }
  [[nodiscard]] double share(double cost) const {
    return without - bound.cost > 1e-9 ? (without - cost) / (without - bound.cost) : 0.0;
  }
};
[[nodiscard]] Foresight foresight(const HouseStudy& study);

/// The same years with one thing changed, by both laws.
struct WearCase {
  std::string what;
  double low = 0.0, high = 0.0;  ///< share of the capacity at the horizon
  double first_saving = 0.0;     ///< of the first year
};
[[nodiscard]] std::vector<WearCase> wear_cases(const HouseStudy& study);

/// When a pack's smallest group holds less than [use] end_percent of what is rated, by the mean of
/// both laws; and when the best spare stands in its place.
struct PackEnd {
  std::string pack, cells;  ///< "A", "C07" or "C07+C09"
  double capacity_Ah = 0.0, years = 0.0;
  std::string spare;  ///< empty: none is better
  double years_with_spare = 0.0;
};
/// "54", or "over 100" where nobody looked further.
[[nodiscard]] std::string years_text(double years);
/// Empty without an arrangement. Looks a hundred years ahead and no further.
[[nodiscard]] std::vector<PackEnd> pack_ends(const Project& project, const Plan& plan);

/// A tariff offered: what the first year costs under it without a bank, by rule, and which size is
/// worth most.
struct TariffResult {
  std::string name;
  double without = 0.0;
  std::vector<std::pair<std::string, double>> rules;
  double best_kWh = 0.0;  ///< 0 without a price of cells
};
/// `bytes` as tariff.csv; the selling price stays the project's. Throws InputError.
[[nodiscard]] TariffResult under_tariff(const Project& project, const HouseStudy& study,
                                        std::string_view bytes, const std::string& file);

/// The first year with other panels and banks.
struct SolarPoint {
  double solar_factor = 1.0, nominal_kWh = 0.0;
  double self_sufficiency = 0.0, saving = 0.0;  ///< against the same panels without a bank
};
[[nodiscard]] std::vector<SolarPoint> bank_and_panels(const HouseStudy& study);

/// Which assumption moves the value most: the study's own series and figures put down and up.
struct Swing {
  std::string what;
  double low = 0.0, high = 0.0;  ///< present value with it lower and higher
};
[[nodiscard]] std::vector<Swing> tornado(const Project& project, const HouseStudy& study);

/// How full the bank is, as a share, by hour of the year's days: 24 values a day.
[[nodiscard]] std::vector<double> charge_by_hour(const HouseStudy& study);
/// Power from the grid (to it below zero) in falling order, `points` of it and the last. Its powers
/// are worked back from the charge, with the losses that grow with them alone.
[[nodiscard]] std::vector<double> grid_in_falling_order(const HouseStudy& study, bool with_bank,
                                                        std::size_t points);

/// All that is answered besides.
struct HouseAnswers {
  Foresight foresight;
  site::FutureBands bands;
  std::vector<Swing> swings;
  std::vector<SolarPoint> panels;
  std::vector<TariffResult> tariffs;
  std::vector<WearCase> cases;
  std::vector<PackEnd> ends;
};
[[nodiscard]] base::Json to_json(const Project& project, const HouseStudy& study,
                                 const HouseAnswers& answers);
/// The year's charge and the curves of the grid, for charts.
[[nodiscard]] base::Json series_json(const HouseStudy& study);

}  // namespace works
