// SPDX-License-Identifier: Apache-2.0
// How long a top balance takes.
#pragma once

#include "base/quantity.hpp"

namespace commission {

/// Hours = cells · capacity · share missing / supply current; the slow end of the charge comes on
/// top.
[[nodiscard]] base::Seconds top_balance_time(int cells, base::AmpHours capacity,
                                             double missing_share, base::Amps supply);

}  // namespace commission
