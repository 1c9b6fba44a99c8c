// SPDX-License-Identifier: Apache-2.0
// The next measurement: the one whose reading is expected to settle most.
#pragma once

#include <string>
#include <vector>

#include "watch/estimator.hpp"

namespace watch {

struct NextMeasurement {
  std::string what;
  double hours = 0.0;
  std::string caution;
  double drop = 0.0;  ///< of uncertainty over the hypotheses, nats
};
/// All that may be made, the most telling first; the order of equals is by hours.
[[nodiscard]] std::vector<NextMeasurement> next_measurements(const Estimator& estimator, int cell,
                                                             const PackFacts& facts);

}  // namespace watch
