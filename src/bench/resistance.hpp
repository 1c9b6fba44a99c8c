// SPDX-License-Identifier: Apache-2.0
// DC resistance from steps of the current, at a stated time after the step.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "bench/uncertainty.hpp"
#include "logs/log.hpp"

namespace bench {

/// One step of the current and the resistance it shows.
struct StepResistance {
  double mOhm = 0.0;
  double time_s = 0.0;  ///< after the row before the step
  std::size_t row = 0;  ///< the last row before the step
  double step_A = 0.0;
};
/// Resistance at every lasting step of more than `least_A`: |ΔV| over |ΔI|, from the row before the
/// step to the first row at least `after_s` later, the current having stayed within 5 % of its new
/// value. With `after_s` zero: from one row to the next.
[[nodiscard]] std::vector<StepResistance> step_resistances(const logs::Log& log, double after_s,
                                                           double least_A);

/// The log's DC resistance some time after a step: the median over its steps.
struct DcResistance {
  Measure mOhm;
  double time_s = 0.0;  ///< median time really waited
  std::size_t steps = 0;
  bool on_flat_part = false;  ///< read where the rested voltage hardly moves
};
/// At `after_s` after the step, between rows where they stand further apart; the step is taken to
/// come in the middle between its two rows, and u says what that leaves open. Steps on the flat
/// part count where there are any, and steps at which a current begins before those at which one
/// ends: the two are not the same. Nothing where no step lasts that long, or its first row comes
/// later than `latest_s`.
[[nodiscard]] std::optional<DcResistance> dc_resistance(const logs::Log& log, const Tester& tester,
                                                        double after_s, double latest_s);

}  // namespace bench
