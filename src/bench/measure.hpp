// SPDX-License-Identifier: Apache-2.0
// What a log shows of its cell: capacity, energy, efficiency, resistance, each with its
// uncertainty and conditions.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "base/json.hpp"
#include "bench/incremental.hpp"
#include "bench/phases.hpp"
#include "bench/reference.hpp"
#include "bench/resistance.hpp"
#include "bench/runs.hpp"
#include "bench/uncertainty.hpp"
#include "findings/finding.hpp"
#include "logs/log.hpp"

namespace bench {

/// The conditions of the discharge that gave the capacity.
struct Conditions {
  double current_A = 0.0;   ///< mean
  double rate_per_h = 0.0;  ///< current over capacity
  double end_V = 0.0;       ///< at the cell
  double full_V = 0.0;      ///< at which the charge before it finished
  double tail_A = 0.0;      ///< current at which that charge ended
  double rest_h = 0.0;      ///< between the two
};

/// Each is empty where the log cannot give it.
struct Measures {
  std::optional<Measure> discharge_capacity_Ah, charge_capacity_Ah, discharge_energy_Wh,
      charge_energy_Wh;
  /// Where gaps leave more than two percent open: between these two, and no capacity above.
  std::optional<std::array<double, 2>> capacity_bounds_Ah;
  /// Where two leads hide how empty the cell was: the capacity lies between these two, about 95 %.
  std::optional<std::array<double, 2>> likely_capacity_Ah;
  /// Resistance between the voltage reading and the cell that nobody told of and the log's steps
  /// show; no resistance of the cell and no energy then.
  std::optional<Measure> leads_mOhm;
  std::optional<Conditions> conditions;        ///< of the discharge capacity
  std::optional<ReferenceCapacity> reference;  ///< the same, brought to reference conditions
  std::optional<double> mean_discharge_V, mean_charge_V;
  std::optional<Measure> tail_charge_Ah;  ///< of the last full charge, at constant voltage
  std::optional<Measure> coulombic_efficiency, energy_efficiency;  ///< 0…1
  std::optional<DcResistance> resistance;                          ///< about 10 s after a step
  std::optional<DcResistance> resistance_1s, resistance_30s;
  std::optional<double> mean_temperature_C;
  std::optional<Drift> rest_drift;                      ///< of the longest rest that allows one
  std::optional<Measure> self_discharge_percent_month;  ///< from it, off the flat part
  std::optional<double> lead_drop_mV;  ///< that two wires took at the discharge's current
  Totals totals;
  std::vector<BudgetLine> capacity_budget;  ///< of the discharge capacity
  std::vector<IncrementalPeak> peaks;       ///< of dQ/dV, where a run was slow enough
};

/// A whole report of one log.
struct Report {
  std::vector<Phase> phases;
  std::vector<Run> runs;
  std::vector<Rest> rests;
  Measures measures;
  std::vector<findings::Finding> findings;  ///< the reader's and ours
};

/// Capacity is that of the last discharge that runs from a finished charge (tapered, or stopped at
/// the voltage limit; rest allowed) to a cut-off. Where the tester reads voltage over two wires,
/// the leads' drop is taken off first.
[[nodiscard]] Report measure(const logs::Log& log, const Tester& tester,
                             const ReferenceConditions& conditions = {});

/// Said where nobody told how accurate the tester is; `remedy` names where to tell it.
[[nodiscard]] findings::Finding accuracy_assumed(const Tester& tester, std::string remedy);

/// The log's entry for the command line and the API, without the file's name and hash.
[[nodiscard]] base::Json to_json(const logs::Log& log, const Report& report);

}  // namespace bench
