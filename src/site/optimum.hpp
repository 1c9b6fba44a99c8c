// SPDX-License-Identifier: Apache-2.0
// The best that any rule could have done, had it known the year beforehand.
#pragma once

#include <string>

#include "site/dispatch.hpp"

namespace site {

struct Bound {
  enum class Status { optimal, too_long, impossible } status = Status::impossible;
  double cost = 0.0;  ///< as in `Outcome`
  double import_kWh = 0.0, export_kWh = 0.0, charge_kWh = 0.0, discharge_kWh = 0.0;
  int iterations = 0;
  std::string words;  ///< where there is none: why
};

struct BoundOptions {
  bool from_grid = true;                      ///< the grid may fill the store
  bool closed = false;                        ///< the charge at the end is that of the start
  double import_kW = 50.0, export_kW = 50.0;  ///< the connection's limits: without them negative
                                              ///< prices have no end
  int most_iterations = 2000000;
};

/// The least cost by a linear programme (dual simplex): import, export, charge, discharge and
/// charge of every step; constant efficiencies (k1 of the losses). Selling dearer than buying, or
/// negative prices, would let it charge and discharge at once; the bound stays a bound. Standby,
/// reserve and start as in the store. The solver's answer is put back into the balance and checked.
[[nodiscard]] Bound optimum(const Year& year, const Prices& prices, const Store& store,
                            const BoundOptions& options = {});

}  // namespace site
