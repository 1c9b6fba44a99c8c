// SPDX-License-Identifier: Apache-2.0
// Phases taken together: the charges and discharges of the cell, their cycles, what interrupted
// them.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "bench/phases.hpp"
#include "logs/log.hpp"

namespace bench {

/// Phases of one direction with nothing but rests between: one run of the cell. A test that was
/// stopped at night and taken up again is one run with an interruption.
struct Run {
  Kind kind = Kind::charge;  ///< charge or discharge
  int cycle = 1;             ///< counted from 1; a charge after a discharge begins the next
  double charge_Ah = 0.0, energy_Wh = 0.0;
  double start_s = 0.0, end_s = 0.0;  ///< from the first row that flows to the last
  double flowing_s = 0.0;
  double start_V = 0.0, end_V = 0.0;
  double limit_V = 0.0;  ///< at its end, as the tester saw it: over the leads, if it does
  double tail_Ah = 0.0;  ///< of a charge, what flowed at constant voltage
  bool tapered = false;  ///< the last phase is at constant voltage
  bool lasting = false;  ///< more than pulses
  std::size_t first = 0, last = 0;  ///< rows
  int interruptions = 0;
  double interrupted_s = 0.0;
};

[[nodiscard]] std::vector<Run> find_runs(const std::vector<Phase>& phases);

/// A charge is finished when it tapered at its limit, or ran up to a voltage that only a full cell
/// has. Pulses finish nothing.
[[nodiscard]] bool finished(const Run& run);
/// A discharge that went past the lower knee.
[[nodiscard]] bool emptied(const Run& run);

/// The last discharge from a finished charge to a cut-off. What moved less than half of the log's
/// whole swing did not run from full to empty, whatever its voltages.
[[nodiscard]] std::optional<std::size_t> capacity_run(const std::vector<Run>& runs);
/// The last charge that finished, whatever came before.
[[nodiscard]] std::optional<std::size_t> full_charge_run(const std::vector<Run>& runs);

/// A rest of the cell: how long, and where its voltage came to.
struct Rest {
  double start_s = 0.0, seconds = 0.0;
  double end_V = 0.0;
  std::optional<Kind> after = {};  ///< the run before it
  std::optional<double>
      state_of_charge;              ///< counted from a finished charge, where capacity is known
  std::size_t first = 0, last = 0;  ///< rows
};
/// Rests of a minute and more. `capacity_Ah`: to say at which charge they were.
[[nodiscard]] std::vector<Rest> find_rests(const std::vector<Phase>& phases,
                                           std::optional<double> capacity_Ah);

/// State of charge at the log's first row, counted back from the last finished charge (full) or,
/// where there is none, from the last discharge to a cut-off (empty). Nothing where neither is
/// there.
[[nodiscard]] std::optional<double> charge_at_start(const std::vector<Phase>& phases,
                                                    double capacity_Ah);

/// Straight line of the voltage over a rest, the first hours left out: what leaks shows in it, and
/// so does what still settles.
struct Drift {
  double mV_per_day = 0.0, u_mV_per_day = 0.0;
  double days = 0.0;  ///< that the line spans
};
/// Nothing where fewer than 12 hours are left after the first `settle_h`.
[[nodiscard]] std::optional<Drift> rest_drift(const logs::Log& log, const Rest& rest,
                                              double settle_h = 12.0);

}  // namespace bench
