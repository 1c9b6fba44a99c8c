// SPDX-License-Identifier: Apache-2.0
// A model of the cell from its logs: open-circuit curve on both branches, R0, two RC pairs,
// hysteresis; with residuals and confidence.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "base/json.hpp"
#include "bench/measure.hpp"
#include "bench/uncertainty.hpp"
#include "logs/log.hpp"

namespace bench {

/// A log of the cell and where its charge stood at the first row.
struct FitLog {
  const logs::Log* log = nullptr;
  double start_charge = 1.0;  ///< state of charge, 0…1
};

/// Voltage of the rested cell by state of charge, on the branch reached by charging and on the one
/// reached by discharging.
struct OpenCircuitCurve {
  std::vector<double> state_of_charge, charge_V, discharge_V;
  [[nodiscard]] double mean_V(double state_of_charge) const;
};

struct FittedCell {
  double capacity_Ah = 0.0;  ///< that states of charge are shares of
  OpenCircuitCurve curve;    ///< only over the charges that the logs visit
  Measure r0_mOhm, r1_mOhm, r2_mOhm, tau1_s, tau2_s;
  Measure hysteresis_mV;                                  ///< half the gap between the branches
  double residual_rms_mV = 0.0, residual_worst_mV = 0.0;  ///< between 5 and 97 % of charge
  std::size_t rows = 0;                                   ///< that the fit looked at
  std::optional<double> temperature_C;
  bool time_constants_assumed = false;  ///< the rows stand too far apart to show them
  /// Which time constants the log determines: off the ends of their range, and known to better than
  /// half. What is not determined is the value at the end of the range, and no measure.
  std::array<bool, 2> tau_determined = {true, true};
  bool both_ways = false;  ///< the logs charge and discharge: hysteresis is seen, not assumed
};

/// Why no model could be fitted, in a sentence.
struct NoFit {
  std::string why;
};

/// V = U(s) + M·h − R0·I − R1·x1 − R2·x2 with h the one-state hysteresis and x1, x2 the current
/// behind its two lags. [Plett2015] For given time constants everything else is linear (U by
/// straight lines between knots) and solved for at once; the two time constants by Levenberg and
/// Marquardt, or taken as 15 and 160 s [Plett2015] where rows stand more than 5 s apart after
/// steps. Resistances are those at the logs' temperature, averaged over charge. Standard
/// uncertainties come from the residuals, widened for their being alike from row to row.
/// R1 and R2 are those at mid charge; towards empty they rise as cell::slow_resistance_factor says.
/// Needs at least two steps of the current and 200 rows.
[[nodiscard]] std::variant<FittedCell, NoFit> fit_cell(std::span<const FitLog> logs,
                                                       double capacity_Ah);

/// The model from one log alone, whose capacity and start of charge its own report tells.
[[nodiscard]] std::variant<FittedCell, NoFit> fit_alone(const logs::Log& log, const Report& report);

/// The model's entry for the command line and the API.
[[nodiscard]] base::Json to_json(const FittedCell& cell);

/// The voltages that the fitted cell would show under the log's currents, row by row; NaN where the
/// charge leaves what the curve covers.
[[nodiscard]] std::vector<double> replay(const FittedCell& cell, const FitLog& log);

}  // namespace bench
