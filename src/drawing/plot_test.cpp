// SPDX-License-Identifier: Apache-2.0
#include "drawing/plot.hpp"

#include <algorithm>

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

TEST(Plot, writes_no_two_labels_on_top_of_each_other) {
  drawing::Plot plot;
  for (const char* label : {"one", "two", "three"})
    plot.series.push_back({{{0.0, 0.2}, {1.0, 0.5}}, label});
  plot.y_mark = 0.5;
  plot.mark_label = "mark";
  const drawing::Drawing d = drawing::draw(plot);
  std::vector<double> at;
  for (const auto& item : d.items)
    if (const auto* t = std::get_if<drawing::Text>(&item))
      if (t->text == "one" || t->text == "two" || t->text == "three" || t->text == "mark")
        at.push_back(t->at.y_mm);
  ASSERT_EQ(at.size(), 4u);
  std::sort(at.begin(), at.end());
  for (std::size_t i = 1; i < at.size(); ++i) EXPECT_GE(at[i] - at[i - 1], 3.0);
}

}  // namespace
