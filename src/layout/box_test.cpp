// SPDX-License-Identifier: Apache-2.0
#include "layout/box.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "layout/layout.hpp"

namespace {

namespace units = base::units;

/// Where a terminal of a slot lies, a tenth of the cell's width in from its side.
std::pair<double, double> terminal(const layout::Box& b, const layout::Slot& s, bool plus) {
  const double w = b.cell_width.in(units::mm), t = b.cell_thickness.in(units::mm);
  const bool far = plus == s.positive_far;
  return {s.x.in(units::mm) + t / 2.0, s.y.in(units::mm) + (far ? 0.9 : 0.1) * w};
}

TEST(Box, joins_every_plus_to_the_next_minus_by_a_short_link) {
  for (const auto& [series, parallel, rows] :
       {std::array{16, 1, 2}, std::array{8, 2, 2}, std::array{16, 2, 2}, std::array{8, 1, 1},
        std::array{15, 1, 1}, std::array{10, 1, 2}}) {
    const layout::Box b =
        layout::lay_out_box(series, parallel, rows, 174.0 * units::mm, 54.0 * units::mm);
    ASSERT_EQ(b.slots.size(), std::size_t(series * parallel));
    ASSERT_EQ(b.links.size(), std::size_t(series - 1));
    for (const layout::Link& link : b.links) {
      double nearest = 1e9;
      for (int a = 0; a < parallel; ++a)
        for (int c = 0; c < parallel; ++c) {
          const auto [x1, y1] =
              terminal(b, b.slots[std::size_t(link.from_group * parallel + a)], true);
          const auto [x2, y2] =
              terminal(b, b.slots[std::size_t((link.from_group + 1) * parallel + c)], false);
          nearest = std::min(nearest, std::hypot(x1 - x2, y1 - y2));
        }
      EXPECT_LT(nearest, 60.0) << series << "S" << parallel << "P, after group "
                               << link.from_group + 1;
    }
  }
}

TEST(Box, lets_no_two_cells_overlap) {
  const layout::Box b = layout::lay_out_box(16, 2, 2, 174.0 * units::mm, 54.0 * units::mm);
  for (std::size_t i = 0; i < b.slots.size(); ++i)
    for (std::size_t k = i + 1; k < b.slots.size(); ++k)
      EXPECT_FALSE(b.slots[i].x == b.slots[k].x && b.slots[i].y == b.slots[k].y);
}

TEST(PlaceName, is_read_back_as_it_was_written) {
  for (const int pack : {0, 25, 26, 701, 702})
    for (const int group : {0, 6, 98, 120}) {
      for (const int parallel : {1, 3}) {
        const auto place = layout::place_named(layout::place_name(pack, group, 0, parallel));
        ASSERT_TRUE(place);
        EXPECT_EQ(place->pack, pack);
        EXPECT_EQ(place->group, group);
      }
    }
  const auto pack = layout::place_named("B");
  ASSERT_TRUE(pack);
  EXPECT_EQ(pack->pack, 1);
  EXPECT_FALSE(pack->group);
  for (const char* wrong : {"", "b", "-01", "A-", "A-0", "A-1.5", "A-x", "A01", "A--1", "AAAA-1"})
    EXPECT_FALSE(layout::place_named(wrong)) << wrong;
}

TEST(Box, counts_places_from_the_end_of_a_row) {
  const auto box = layout::lay_out_box(16, 1, 2, 0.17 * base::units::m, 0.07 * base::units::m);
  const std::vector<double> row = {0, 1, 2, 3, 3, 2, 1, 0};
  const auto places = layout::places_from_row_end(box);
  ASSERT_EQ(places.size(), 16u);
  for (std::size_t g = 0; g < 16; ++g) EXPECT_EQ(places[g], row[g % 8]) << g;
}

TEST(PlaceName, counts_packs_in_letters_and_groups_from_the_minus) {
  EXPECT_EQ(layout::place_name(0, 6, 0, 1), "A-07");
  EXPECT_EQ(layout::place_name(1, 0, 1, 2), "B-01b");
  EXPECT_EQ(layout::pack_name(25), "Z");
  EXPECT_EQ(layout::pack_name(26), "AA");
}

}  // namespace
