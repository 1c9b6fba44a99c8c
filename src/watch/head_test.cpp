// SPDX-License-Identifier: Apache-2.0
#include "watch/head.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace {

TEST(Rising, pools_what_goes_down) {
  const double v[] = {1.0, 3.0, 2.0, 2.5, 5.0};
  EXPECT_EQ(watch::rising(v), (std::vector<double>{1.0, 2.5, 2.5, 2.5, 5.0}));
}

/// A steep end of charge, volts over ampere-hours.
double end_V(double Ah) { return 3.345 + 0.004 * std::exp(Ah / 2.5); }

TEST(FindGaps, finds_what_each_cell_lacks_whatever_its_way_up) {
  std::vector<double> Ah, median;
  std::vector<float> cells;
  const double gaps[] = {-0.4, 0.0, 0.3, 1.2};
  for (int i = 0; i <= 60; ++i) {
    Ah.push_back(0.15 * i);
    median.push_back(end_V(Ah.back()));
    for (const double g : gaps) cells.push_back(float(end_V(Ah.back() - g)));
  }
  const watch::Head head = watch::find_gaps(Ah, median, cells, 4);
  ASSERT_TRUE(head.full);
  for (std::size_t j = 0; j < 4; ++j) EXPECT_NEAR(head.gaps[j].gap_Ah, gaps[j], 0.02) << j;
  EXPECT_NEAR(end_V(head.full_Ah), 3.40, 2e-3);
}

TEST(FindGaps, says_nothing_of_a_charge_that_ended_on_the_plateau) {
  std::vector<double> Ah, median;
  std::vector<float> cells;
  for (int i = 0; i <= 20; ++i) {
    Ah.push_back(0.15 * i);
    median.push_back(3.34 + 0.0005 * i);
    cells.push_back(float(median.back()));
  }
  EXPECT_FALSE(watch::find_gaps(Ah, median, cells, 1).full);
}

}  // namespace
