// SPDX-License-Identifier: Apache-2.0
#include "base/figure.hpp"

#include <gtest/gtest.h>

namespace {

TEST(Figure, shows_no_more_digits_than_its_uncertainty_carries) {
  EXPECT_EQ(base::show({.value = 228.4123, .u = 0.8213, .unit = "Ah"}), "228.4 ± 0.8 Ah");
  EXPECT_EQ(base::show({.value = 228.4123, .u = 0.1213, .unit = "Ah"}), "228.41 ± 0.12 Ah");
  EXPECT_EQ(base::show({.value = 743.2, .u = 31.0, .unit = "Wh"}), "743 ± 31 Wh");
  EXPECT_EQ(base::show({.value = 35.0, .unit = "mm²"}), "35 mm²");
  EXPECT_EQ(base::show({.value = 0.73861, .unit = "%"}), "0.739 %");
  EXPECT_EQ(base::show({.value = 8113.4, .unit = "A"}), "8113 A");
}

TEST(Fixed, has_a_real_minus_and_no_negative_zero) {
  EXPECT_EQ(base::fixed(-12.5, 1), "−12.5");
  EXPECT_EQ(base::fixed(-0.0001, 2), "0.00");
  EXPECT_EQ(base::fixed(std::nan(""), 2), "–");
}

}  // namespace
