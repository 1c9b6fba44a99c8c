// SPDX-License-Identifier: Apache-2.0
// The sense harness, pin by pin, before it is plugged in.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "findings/finding.hpp"

namespace commission {

/// What the meter reads on the open plug between pin 0, the pack's minus, and a pin.
struct SenseReading {
  int pack = 0, pin = 0;
  double volts = 0.0;
};
/// sense.csv: `pack,pin,volts` with packs by their names and pins from 0. Throws InputError with
/// line and column: a pack or a pin that is not there, a pin given twice, no number.
[[nodiscard]] std::vector<SenseReading> read_sense(std::string_view bytes, int packs, int series);

struct SensePin {
  int pin = 0;
  double expected_V = 0.0;  ///< pin times the pack's mean step, or 3.3 V where nothing was read
  std::optional<double> read_V, step_V;
  std::string verdict;  ///< "right", or what is wrong in a few words; empty: not read
};
struct SenseTable {
  int pack = 0;
  std::vector<SensePin> pins;  ///< 0 … series
  bool complete = false, right = false;
  std::vector<findings::Finding> findings;
};
/// Every pin reads one group more than the one before, all with the same sign: a step below nothing
/// is a reversed pair, one of nothing a doubled pin, one of two groups a skipped one.
[[nodiscard]] SenseTable check_sense(int pack, int series,
                                     const std::vector<SenseReading>& readings);

}  // namespace commission
