// SPDX-License-Identifier: Apache-2.0
#include "bench/shared_errors.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace {

using bench::SplitMeasure;

TEST(SharedErrors, of_one_channel_add_up_and_cancel_in_differences) {
  const std::vector<SplitMeasure> cells(16, {.value = 230.0, .common_u = 0.6, .own_u = 0.3});
  const auto sum = bench::sum_of(cells);
  EXPECT_NEAR(sum.value, 3680.0, 1e-9);
  EXPECT_NEAR(sum.u, std::hypot(16 * 0.6, 4 * 0.3), 1e-9);
  EXPECT_NEAR(bench::difference_of(cells[0], cells[1]).u, std::sqrt(2.0) * 0.3, 1e-9);
}

TEST(SharedErrors, of_two_channels_are_not_the_same) {
  const SplitMeasure a{.value = 230.0, .common_u = 0.6, .own_u = 0.3, .channel = "1"},
      b{.value = 229.0, .common_u = 0.6, .own_u = 0.3, .channel = "2"};
  EXPECT_NEAR(bench::difference_of(a, b).u, std::sqrt(2.0) * std::hypot(0.6, 0.3), 1e-9);
}

// The worked example of a capacity test by integration: 0.671, 0.291 and 0.007 Ah are the meter's,
// the rest is the test's own; differences of two cells on one meter come to 0.571 Ah. (facts, 8)
TEST(SharedErrors, give_the_worked_examples_difference) {
  const std::vector<bench::BudgetLine> budget = {
      {"current gain", 0, 0, 0.671},
      {"current offset, A", 0, 0, 0.291},
      {"clock", 0, 0, 0.007},
      {"temperature, K", 0, 0, 0.268},
      {"cut-off voltage, V", 0, 0, 0.033},
      {"full charge and repeatability, Ah", 0, 0, 0.300}};
  const SplitMeasure cell = bench::split(232.3, budget);
  EXPECT_NEAR(bench::difference_of(cell, cell).u, 0.571, 0.002);
  EXPECT_NEAR(std::hypot(cell.common_u, cell.own_u), 0.836, 0.005);
}

}  // namespace
