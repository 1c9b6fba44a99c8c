// SPDX-License-Identifier: Apache-2.0
#include "site/store.hpp"

#include <gtest/gtest.h>

namespace {

TEST(Loss, through_three_points_gives_their_efficiencies_back) {
  const site::Loss l = site::loss_through(0.91, 0.96, 0.94);
  for (const auto& [p, efficiency] : {std::pair{0.1, 0.91}, {0.5, 0.96}, {1.0, 0.94}})
    EXPECT_NEAR(1.0 / (1.0 + l.share_at(p)), efficiency, 1e-12);
  EXPECT_NEAR(site::Loss::charging(0.93).share_at(0.2), 0.07, 1e-12);
  EXPECT_NEAR(1.0 / (1.0 + site::Loss::discharging(0.93).share_at(0.7)), 0.93, 1e-12);
}

}  // namespace
