// SPDX-License-Identifier: Apache-2.0
#include "base/calendar.hpp"

#include <gtest/gtest.h>

namespace {

// Counts as `date -u -d DAY +%s` gives them, over 86400.
TEST(DaysSince1970, agree_with_the_systems_calendar_and_refuse_days_that_are_none) {
  EXPECT_EQ(base::days_since_1970(1970, 1, 1), 0);
  EXPECT_EQ(base::days_since_1970(2000, 3, 1), 11017);
  EXPECT_EQ(base::days_since_1970(2024, 2, 29), 19782);
  EXPECT_EQ(base::days_since_1970(1900, 1, 1), -25567);
  for (const auto& [y, m, d] :
       {std::array{2023, 2, 29}, std::array{1900, 2, 29}, std::array{2020, 13, 1},
        std::array{2020, 4, 31}, std::array{2020, 1, 0}}) {
    EXPECT_FALSE(base::days_since_1970(y, m, d)) << y << "-" << m << "-" << d;
  }
}

}  // namespace
