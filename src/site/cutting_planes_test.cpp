// SPDX-License-Identifier: Apache-2.0
#include "site/cutting_planes.hpp"

#include <algorithm>
#include <cmath>
#include <random>

#include <gtest/gtest.h>

namespace {

/// f = max of planes that fall, and Σy: the lowest point of a known shape is found.
TEST(CuttingPlanes, find_the_lowest_point_of_a_sum_of_kinks) {
  std::mt19937_64 engine(2);
  const auto u = [&] { return double(engine() >> 11) * 0x1.0p-53; };
  for (int k = 0; k < 50; ++k) {
    const std::size_t n = 1 + engine() % 12;
    std::vector<double> kink(n), steep(n), high(n, 10.0);
    for (std::size_t i = 0; i < n; ++i) kink[i] = 1.0 + 8.0 * u(), steep[i] = 0.2 + 3.0 * u();
    const double price = 1.0;
    // f(y) = Σ steep·max(0, kink − y): to the kink where steeper than the price, else to zero.
    double least = 0.0;
    for (std::size_t i = 0; i < n; ++i)
      least += steep[i] > price ? price * kink[i] : steep[i] * kink[i];
    site::CuttingPlanes planes(price, high, 0.0);
    double found = 1e300;
    for (int round = 0; round < 400; ++round) {
      ASSERT_TRUE(planes.solve());
      ASSERT_LE(planes.lowest(), least + 1e-9);
      double value = 0.0, whole = 0.0;
      std::vector<double> slope(n, 0.0);
      for (std::size_t i = 0; i < n; ++i) {
        const double y = planes.at()[i];
        ASSERT_GE(y, -1e-9);
        ASSERT_LE(y, high[i] + 1e-9);
        if (y < kink[i]) value += steep[i] * (kink[i] - y), slope[i] = -steep[i];
        whole += price * y;
      }
      found = std::min(found, value + whole);
      if (found - planes.lowest() < 1e-9) break;
      planes.add(planes.at(), value, slope);
    }
    EXPECT_NEAR(found, least, 1e-8);
    EXPECT_NEAR(planes.lowest(), least, 1e-8);
  }
}

}  // namespace
