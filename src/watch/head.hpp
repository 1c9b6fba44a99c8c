// SPDX-License-Identifier: Apache-2.0
// The end of a charge: how far each cell lags behind the median, read off the median's own way up.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "watch/record.hpp"

namespace watch {

struct Gap {
  double gap_Ah = not_known;  ///< behind the median; negative: ahead
  double u_Ah = 0.0;
  double slope_mV_Ah = 1.0;
  bool at_least = false;  ///< it never came up: no more than a bound
};
struct Head {
  bool full = false;     ///< the median came up to 3.385 V
  double full_Ah = 0.0;  ///< where it passed 3.40 V
  double top_V = 0.0;
  std::size_t at = 0;     ///< that sample
  std::vector<Gap> gaps;  ///< one a cell
};

/// All cells follow one curve over charge, shifted along it: the shift of each against the median,
/// weighted by the square of the slope. `charged_Ah` ascends; voltages without their common ohmic
/// part, `cells_V` row by row. A cell that is far behind is given the least gap it may have and a
/// wide uncertainty. Charging-curve shift: Zheng et al., J. Power Sources 226 (2013) 33.
/// [Zheng2013]
[[nodiscard]] Head find_gaps(std::span<const double> charged_Ah, std::span<const double> median_V,
                             std::span<const float> cells_V, int cells);

/// The closest non-decreasing sequence (pool adjacent violators).
[[nodiscard]] std::vector<double> rising(std::span<const double> values);

}  // namespace watch
