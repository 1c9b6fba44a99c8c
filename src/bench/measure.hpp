// SPDX-License-Identifier: Apache-2.0
// What a log shows of its cell: capacity, energy, efficiency, resistance, each with its
// uncertainty.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "base/finding.hpp"
#include "base/json.hpp"
#include "bench/log.hpp"
#include "bench/phases.hpp"
#include "bench/uncertainty.hpp"

namespace bench {

struct Measure {
  double value = 0.0;
  double u = 0.0;  ///< standard uncertainty
};

/// Each is empty where the log cannot give it.
struct Measures {
  std::optional<Measure> discharge_capacity_Ah, charge_capacity_Ah, discharge_energy_Wh,
      charge_energy_Wh;
  std::optional<Measure> coulombic_efficiency, energy_efficiency;  ///< 0…1
  std::optional<Measure> dc_resistance_mOhm;
  std::optional<double> resistance_time_s;  ///< how long after the step the resistance was read
  bool resistance_on_flat_part = false;     ///< read where the rested voltage hardly moves
  std::optional<double> mean_temperature_C;
  Totals totals;
  std::vector<BudgetLine> capacity_budget;  ///< of the discharge capacity
};

/// One step of the current and the resistance it shows.
struct StepResistance {
  double mOhm = 0.0;
  double time_s = 0.0;  ///< after the row before the step
  std::size_t row = 0;  ///< the last row before the step
};
/// Resistance at every lasting step of more than `least_A`: |ΔV| over |ΔI|, from the row before the
/// step to the first row at least `after_s` later, the current having stayed within 5 % of its new
/// value. With `after_s` zero: from one row to the next.
[[nodiscard]] std::vector<StepResistance> step_resistances(const Log& log, double after_s,
                                                           double least_A);

/// A whole report of one log.
struct Report {
  std::vector<Phase> phases;
  Measures measures;
  std::vector<base::Finding> findings;  ///< the reader's and ours
};

/// Capacity is that of the last discharge that runs from a finished charge (tapered, or stopped at
/// the voltage limit; rest allowed) to a cut-off.
[[nodiscard]] Report measure(const Log& log, const Tester& tester);

/// Said where nobody told how accurate the tester is; `remedy` names where to tell it.
[[nodiscard]] base::Finding accuracy_assumed(const Tester& tester, std::string remedy);

/// The object of the contract, without "file" and "sha256", which the edge adds.
[[nodiscard]] base::Json to_json(const Log& log, const Report& report);

}  // namespace bench
