// SPDX-License-Identifier: Apache-2.0
#include "life/wear.hpp"

#include <gtest/gtest.h>

namespace {

namespace units = base::units;

life::Use use(double days, double cycles, double C = 20.0) {
  return {.time = days * units::day,
          .temperature = base::Temperature::from_C(C),
          .mean_charge = 0.6,
          .full_cycles = cycles,
          .depth = 0.7,
          .c_rate = 0.3};
}

TEST(Wear, in_many_steps_is_the_wear_in_one) {
  for (const life::Law law : {life::Law::naumann, life::Law::schimpe, life::Law::wang}) {
    life::Wear once(law), often(law);
    once.add(use(3652.5, 1200.0));
    for (int i = 0; i < 120; ++i) often.add(use(30.4375, 10.0));
    EXPECT_NEAR(often.loss(), once.loss(), 1e-12) << life::name(law);
    EXPECT_NEAR(once.calendar() + once.cycling(), once.loss(), 1e-15);
  }
}

TEST(Wear, grows_with_heat_and_does_not_hang_on_the_order_of_its_seasons) {
  life::Wear warm(life::Law::naumann), cool(life::Law::naumann);
  for (const double C : {30.0, 10.0}) warm.add(use(365.25, 100.0, C));
  for (const double C : {10.0, 30.0}) cool.add(use(365.25, 100.0, C));
  EXPECT_NEAR(warm.loss(), cool.loss(), 1e-15);
  life::Wear hot(life::Law::naumann);
  hot.add(use(730.5, 200.0, 30.0));
  EXPECT_GT(hot.loss(), warm.loss());
  EXPECT_EQ(life::Wear(life::Law::wang).loss(), 0.0);
}

}  // namespace
