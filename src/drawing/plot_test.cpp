// SPDX-License-Identifier: Apache-2.0
#include "drawing/plot.hpp"

#include <gtest/gtest.h>

namespace {

TEST(Ticks, fall_on_round_numbers_within_the_range) {
  EXPECT_EQ(drawing::ticks(0.0, 20.0, 8), (std::vector<double>{0, 5, 10, 15, 20}));
  for (const double t : drawing::ticks(64.0, 100.0, 5)) EXPECT_TRUE(t >= 64.0 && t <= 100.0 + 1e-9);
}

TEST(Plot, keeps_every_stroke_on_its_paper) {
  drawing::Plot plot;
  plot.series.push_back({{{-1.0, -3.0}, {0.5, 0.5}, {2.0, 9.0}}, "beyond the frame"});
  const drawing::Drawing d = drawing::draw(plot);
  for (const auto& item : d.items)
    if (const auto* s = std::get_if<drawing::Stroke>(&item)) {
      for (const drawing::Point& p : s->points)
        EXPECT_TRUE(p.x_mm >= 0.0 && p.x_mm <= d.width_mm && p.y_mm >= 0.0 &&
                    p.y_mm <= d.height_mm);
    }
}

}  // namespace
