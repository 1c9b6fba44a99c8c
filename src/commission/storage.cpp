// SPDX-License-Identifier: Apache-2.0
#include "commission/storage.hpp"

#include "base/check.hpp"

namespace commission {

base::Seconds time_to_charge(double from, double to, base::AmpHours capacity, base::Amps drain,
                             double leak_share_month) {
  CHECK(from >= to && capacity.si() > 0.0 && drain.si() >= 0.0 && leak_share_month >= 0.0);
  const double month_s = 30.44 * 86400.0;
  const double share_s = drain.si() / capacity.si() + leak_share_month / month_s;
  return base::Seconds::from_si((from - to) / share_s);
}

}  // namespace commission
