// SPDX-License-Identifier: Apache-2.0
// Incremental capacity: how much charge lies at each voltage, and where it peaks.
#pragma once

#include <span>
#include <vector>

namespace bench {

/// dQ/dV over the voltage, as share of the whole charge per volt.
struct IncrementalCapacity {
  std::vector<double> voltage_V, per_V;
};
/// A maximum that stands out from its surroundings.
struct IncrementalPeak {
  double voltage_V = 0.0;
  double per_V = 0.0;
};

/// From charge moved (rising) and voltage of one slow run, either way. Bins of `bin_V`, smoothed by
/// a seven-point quadratic. [Savitzky1964] Says something for currents up to about a
/// twentieth of the capacity; faster runs smear and shift the peaks. [Dubarry2022]
[[nodiscard]] IncrementalCapacity incremental_capacity(std::span<const double> charge_Ah,
                                                       std::span<const double> voltage_V,
                                                       double bin_V = 0.002);

/// Peaks between 3.0 and 3.5 V, highest voltage first; a peak rises above both its valleys by at
/// least `prominence` of the highest.
[[nodiscard]] std::vector<IncrementalPeak> incremental_peaks(const IncrementalCapacity& curve,
                                                             double prominence = 0.02);

}  // namespace bench
