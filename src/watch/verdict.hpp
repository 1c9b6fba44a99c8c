// SPDX-License-Identifier: Apache-2.0
// What a set of readings may be said to show, and what it may not.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "base/quantity.hpp"

namespace watch {

/// Readings of cells taken together. Voltages never travel alone.
struct RestedReadings {
  std::span<const double> voltages_V;
  base::Seconds rest;      ///< since a current last flowed
  base::Volts half_width;  ///< what one reading may be off by
};

enum class BalanceVerdict {
  refused_flat,  ///< on the flat part: equal voltage is not equal charge
  refused_not_rested,
  within,  ///< all cells allow a common state of charge
  apart    ///< some do not
};

struct Balance {
  BalanceVerdict verdict = BalanceVerdict::refused_flat;
  double lowest_charge = 0.0, highest_charge = 1.0;  ///< what the readings allow, over all cells
  double widest_span = 0.0;  ///< uncertainty of the worst-placed single reading
  std::string sentence;
};

/// May these readings be compared for charge? Only where one reading fixes the charge to within 5 %
/// of capacity (below 10 % or above 98 %), and after half an hour of rest (common practice, no
/// source).
[[nodiscard]] Balance judge_balance(const RestedReadings& readings);

/// What a cell's reading has in common with its current, where it lies off what was expected.
enum class OffReading {
  none,       ///< within what a reading may be off by
  ohmic,      ///< grows with the current: a joint, or the cell's resistance
  steady,     ///< the same at every current: a sense lead, or the meter
  undecided,  ///< the current hardly changed, so the two cannot be told apart
};
struct OffVerdict {
  OffReading what = OffReading::none;
  double offset_mV = 0.0;        ///< at no current (of `undecided`: as read)
  double resistance_mOhm = 0.0;  ///< of `ohmic`, more than expected
  std::string sentence;
};
/// A straight line through what readings lie off the expected by, against the current (discharge
/// positive; an ohmic fault reads low while discharging). Equal lengths, at least three.
[[nodiscard]] OffVerdict tell_apart(std::span<const double> off_mV,
                                    std::span<const double> current_A, double half_width_mV);

}  // namespace watch
