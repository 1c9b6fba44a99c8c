// SPDX-License-Identifier: Apache-2.0
// Capacity brought to conditions at which cells can be compared.
#pragma once

#include <optional>

#include "bench/uncertainty.hpp"

namespace bench {

/// 25 °C, 0.2 of the capacity an hour, to a stated cut-off. [IEC62620] 6.3
struct ReferenceConditions {
  double temperature_C = 25.0;
  double rate_per_h = 0.2;
  double cut_off_V = 2.5;
};

/// A capacity as it was measured.
struct MeasuredCapacity {
  double capacity_Ah = 0.0;
  double u_Ah = 0.0;  ///< without what the temperature leaves open
  double current_A = 0.0;
  double end_V = 0.0;  ///< at the cell, under that current
  std::optional<double> temperature_C;
  double temperature_halfwidth_K = 0.0;
  std::optional<double> resistance_mOhm;  ///< DC, about 10 s after a step
};

struct ReferenceCapacity {
  Measure capacity_Ah;
  double from_end_Ah = 0.0;  ///< for where the discharge stopped: cut-off, current, resistance
  double from_temperature_Ah = 0.0;  ///< for the temperature
};

/// The cell's own rested voltage at the end, E = V + I·R with R of a long discharge, says how much
/// charge was left (open-circuit curve of the chemistry, foot); the same at reference conditions;
/// the difference is added, and 0.04 %/K for the temperature itself. [Sunil2025] [Plett2015] Adds
/// the model's own uncertainty: a third of each correction, and 0.04 %/K. Nothing where the
/// discharge ended on the flat part.
[[nodiscard]] std::optional<ReferenceCapacity> to_reference(const MeasuredCapacity& measured,
                                                            const ReferenceConditions& conditions);

}  // namespace bench
