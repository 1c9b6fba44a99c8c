// SPDX-License-Identifier: Apache-2.0
#include "site/load.hpp"

#include <numeric>

#include <gtest/gtest.h>

namespace {

site::Year drawn(const site::House& house) {
  site::Year y;
  y.first_day = 20089;  // 2025-01-01
  y.load_kW.assign(35040, 0.0), y.solar_kW.assign(35040, 0.0);
  site::put_load(y, house, std::vector<double>(366, 3.0));
  return y;
}
double kWh(const site::Year& y) {
  return std::accumulate(y.load_kW.begin(), y.load_kW.end(), 0.0) * y.step_h;
}

TEST(Load, keeps_the_years_energy_whatever_its_shape) {
  for (const double peaky : {0.0, 0.8})
    for (const double at_home : {-0.3, 0.0, 0.4}) {
      site::House h;
      h.annual_kWh = 4200.0, h.peaky = peaky, h.at_home = at_home;
      EXPECT_NEAR(kWh(drawn(h)), 4200.0 * 365.0 / 365.25, 1e-6);
    }
  site::House h;
  h.annual_kWh = 0.0;
  EXPECT_EQ(kWh(drawn(h)), 0.0);
}

TEST(Load, of_a_car_comes_in_the_evening_and_sums_to_its_year) {
  site::House h;
  h.annual_kWh = 3000.0;
  const site::Year without = drawn(h);
  h.car_kWh = 2000.0;
  const site::Year with = drawn(h);
  EXPECT_NEAR(kWh(with) - kWh(without), 2000.0, 60.0);  // the last days may be due
  double by_day = 0.0;
  for (std::size_t i = 0; i < with.steps(); ++i)
    if (const double hour = double(i % 96) / 4.0; hour > 6.0 && hour < 16.9)
      by_day += with.load_kW[i] - without.load_kW[i];
  EXPECT_NEAR(by_day, 0.0, 1e-9);
}

}  // namespace
