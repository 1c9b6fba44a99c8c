// SPDX-License-Identifier: Apache-2.0
// A house without a grid: how much of its load goes unserved, over years with other weather.
#pragma once

#include "site/dispatch.hpp"

namespace site {

/// The same year with its days of sun exchanged: five days in a row come from up to ten days before
/// or after, so that dull weeks stay weeks and the season stays (seeded). Load as it is.
[[nodiscard]] Year resampled(const Year& year, unsigned seed);

struct LossOfLoad {
  double energy_share = 0.0;  ///< of the load, unserved, mean of the years: LLP by energy
  double worst_share = 0.0;   ///< the worst year's
  double time_share = 0.0;    ///< of the time, some of the load unserved: by time
  int years = 0;
};
/// Plays `years` resampled years by self-use from a full store; what would be imported is what is
/// lost. Requires years >= 1.
[[nodiscard]] LossOfLoad loss_of_load(const Year& year, const Store& store, int years,
                                      unsigned seed);

/// The smallest usable energy, kWh to a tenth, at which no more than `share` of the load is lost;
/// `most_kWh` where even that does not do.
[[nodiscard]] double size_for_loss(const Year& year, const Store& store, double share,
                                   double most_kWh, int years, unsigned seed);

/// The plain chain: load over the inverter, times days, over what may be used.
struct OffGridSize {
  double needed_kWh = 0.0, nominal_kWh = 0.0, nominal_Ah = 0.0;
};
[[nodiscard]] OffGridSize off_grid_size(double daily_kWh, double inverter_share, double days,
                                        double depth, double end_share, double factor,
                                        double margin, double voltage_V);

}  // namespace site
