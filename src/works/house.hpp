// SPDX-License-Identifier: Apache-2.0
// The year at the house and the years after, as a project tells them.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/finding.hpp"
#include "site/optimum.hpp"
#include "site/years.hpp"
#include "works/project.hpp"

namespace works {

struct Plan;

struct HouseStudy {
  site::Year year;
  site::Prices prices;
  site::Store store;
  site::Rules rules;
  site::Life life;
  std::string load_from, sun_from, price_from;  ///< in words
  site::Outcome without, with_store;
  std::vector<site::SizePoint> sizes;
  double cells_per_kWh = 0.0;  ///< the chosen offer over the bank's energy when new
  double knee_kWh = 0.0;       ///< the largest size whose last kilowatt-hour still pays for itself
  site::Autonomy outage;  ///< from what is kept, or full where nothing is, at the outage's power
  std::vector<site::YearOfLife> harsh, mild;  ///< by two laws, a year past the horizon
  int served = 0;                             ///< years of it until the harsher law's end
  double capital = 0.0;                       ///< landed and the rest, less what somebody else pays
  bool priced = false;                        ///< an offer is chosen
  std::vector<double> flows;                  ///< by year, the harsher law
  double value = 0.0;                         ///< present, of those
  std::optional<double> payback_years, internal_rate;
  double naive_payback_years = 0.0;  ///< every day a full cycle at the dearest price, no losses
  std::vector<base::Finding> findings;
};
/// Nothing where the project does not say what the house uses, what a kilowatt-hour costs, or
/// where its panels stand. Needs the plan's offers, cells and arrangement. Throws InputError that
/// names line and column of a series that cannot be read.
[[nodiscard]] std::optional<HouseStudy> house_study(const Project& project, const Plan& plan,
                                                    bool with_sizes = true);

/// What a run of the futures needs.
[[nodiscard]] site::FutureBands futures(const Project& project, const HouseStudy& study, int count);
/// The best year by linear programme, in hours, and what the rule gets of it.
struct Foresight {
  site::Bound bound;
  double without = 0.0, rule = 0.0;  ///< costs of the same hours
  /// Share of the best saving that the rule gets.
  [[nodiscard]] double share() const {
    return without - bound.cost > 1e-9 ? (without - rule) / (without - bound.cost) : 0.0;
  }
};
[[nodiscard]] Foresight foresight(const HouseStudy& study);

/// Which assumption moves the value most: each put down and up by a fifth (or to its bound).
struct Swing {
  std::string what;
  double low = 0.0, high = 0.0;  ///< present value with it lower and higher
};
[[nodiscard]] std::vector<Swing> tornado(const Project& project, const Plan& plan);

}  // namespace works
