// SPDX-License-Identifier: Apache-2.0
#include "cell/rested_charge.hpp"

#include <gtest/gtest.h>

namespace {

namespace units = base::units;
using cell::Before;

cell::RestReading reading(double volts, Before before) {
  return {
      .voltage = volts * units::V, .half_width = 2.0 * units::mV, .before = before, .rest_h = 12.0};
}

TEST(RestedCharge, says_little_on_the_flat_part_and_much_at_the_foot) {
  const auto flat = cell::charge_from_rest(reading(3.30, Before::unknown)).value();
  EXPECT_GT(flat.high - flat.low, 0.4);
  const auto foot = cell::charge_from_rest(reading(2.95, Before::discharged)).value();
  EXPECT_LT(foot.high - foot.low, 0.07);
  EXPECT_LT(foot.high, 0.08);
}

TEST(RestedCharge, is_narrower_where_the_direction_before_is_known) {
  const auto any = cell::charge_from_rest(reading(3.31, Before::unknown)).value(),
             charged = cell::charge_from_rest(reading(3.31, Before::charged)).value(),
             discharged = cell::charge_from_rest(reading(3.31, Before::discharged)).value();
  EXPECT_LE(charged.high, discharged.high);  // after charging the same voltage is less charge
  EXPECT_LE(charged.high - charged.low, any.high - any.low);
  EXPECT_LE(discharged.high - discharged.low, any.high - any.low);
}

TEST(RestedCharge, is_nothing_for_a_voltage_that_no_charge_gives) {
  EXPECT_FALSE(cell::charge_from_rest(reading(3.9, Before::unknown)).has_value());
  EXPECT_FALSE(cell::charge_from_rest(reading(1.0, Before::unknown)).has_value());
}

}  // namespace
