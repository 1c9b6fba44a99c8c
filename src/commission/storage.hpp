// SPDX-License-Identifier: Apache-2.0
// A bank, and spares, left alone: until when.
#pragma once

#include "base/quantity.hpp"

namespace commission {

/// How long a store of this capacity goes from one state of charge down to another, with what stays
/// on drawing `drain` and the cells losing a share of their capacity a month (30.44 days). Requires
/// from >= to; nothing drawn and nothing lost: never, infinite.
[[nodiscard]] base::Seconds time_to_charge(double from, double to, base::AmpHours capacity,
                                           base::Amps drain, double leak_share_month);

}  // namespace commission
