// SPDX-License-Identifier: Apache-2.0
// Which way a log's current flows, from how the voltage answers.
#pragma once

#include <cstdint>
#include <span>

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

/// Gives each stretch of unsigned current the sign that its voltage shows; discharge positive.
/// Stretches that show nothing keep the sign of the one before.
void sign_stretches(std::span<double> current, std::span<const double> voltage);

}  // namespace logs
