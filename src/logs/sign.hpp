// SPDX-License-Identifier: Apache-2.0
// Which way a log's current flows, from how the voltage answers.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace logs {

enum class SignEvidence : std::uint8_t {
  charge_positive,
  discharge_positive,
  unsigned_values,
  changes,  ///< one part of the log says one thing, the rest the other
  none
};

/// A cell's voltage jumps the way its charging current jumps, and rises while it is charged.
/// Current that never changes sign though the voltage answers both ways is unsigned.
[[nodiscard]] SignEvidence find_sign(std::span<const double> current,
                                     std::span<const double> voltage);

/// Unsigned current read by how the voltage answers, stretch by stretch: stretches end where the
/// size of the current steps, where it rests, and where the voltage steps although the current
/// does not (charge may turn into discharge without a pause).
struct UnsignedReading {
  struct Stretch {
    std::size_t first = 0, last = 0;
    int sign = 0;  ///< +1 discharges, -1 charges, 0 rests
  };
  std::vector<Stretch> stretches;
  bool charges = false, discharges = false;
  std::size_t reversals = 0;  ///< from one direction to the other without a rest between
  double doubtful_share =
      0.0;  ///< of the charge moved: in stretches that could as well be the other
};
/// `weight`: what each row moves (its charge), for the shares.
[[nodiscard]] UnsignedReading read_unsigned(std::span<const double> current,
                                            std::span<const double> voltage,
                                            std::span<const double> weight);

/// Gives every row the sign of its stretch; discharge positive.
void put_signs(const UnsignedReading& reading, std::span<double> current);

}  // namespace logs
