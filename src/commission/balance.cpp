// SPDX-License-Identifier: Apache-2.0
#include "commission/balance.hpp"

#include "base/check.hpp"

namespace commission {

base::Seconds top_balance_time(int cells, base::AmpHours capacity, double missing_share,
                               base::Amps supply) {
  CHECK(supply.si() > 0.0 && missing_share >= 0.0);
  return capacity * double(cells) * missing_share / supply;
}

}  // namespace commission
