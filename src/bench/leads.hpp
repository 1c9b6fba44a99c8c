// SPDX-License-Identifier: Apache-2.0
// Voltage read over the leads that carry the current: how a log shows it, and what it then says of
// the capacity.
#pragma once

#include <array>
#include <optional>

#include "bench/uncertainty.hpp"
#include "logs/log.hpp"

namespace bench {

/// Resistance between the voltage reading and the cell, told from the log's own steps: what answers
/// at once is far more than a cell of this capacity has. Cells of 1 to 300 Ah show 20 to 120 mΩ Ah
/// from row to row (open data: 7.6 mΩ at 2.5 Ah, 2.6 mΩ at 35 Ah [Tao2024]); five times that is
/// leads, clips or a bad contact. `moved_Ah`: of the largest run. Nothing where there is no such
/// step, or nothing odd about it.
[[nodiscard]] std::optional<Measure> leads_seen(const logs::Log& log, double moved_Ah);

/// A discharge that the leads' drop ended early, at the cell's own voltage `end_V` under
/// `current_A`.
struct EarlyEnd {
  double charge_Ah = 0.0;  ///< that came out
  double end_V = 0.0, u_end_V = 0.0;
  double current_A = 0.0;
};
/// Between which capacities the cell then lies: what came out over what the voltage left says was
/// still in it, both curves and the spread between makes minded. Nothing where that voltage says
/// that it was as good as empty: less than three percent open.
[[nodiscard]] std::optional<std::array<double, 2>> capacity_left_open(const EarlyEnd& end);

}  // namespace bench
