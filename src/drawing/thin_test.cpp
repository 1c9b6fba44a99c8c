// SPDX-License-Identifier: Apache-2.0
#include "drawing/thin.hpp"

#include <algorithm>

#include <gtest/gtest.h>
#include <rapidcheck.h>

namespace {

TEST(Thinned, keeps_ends_peaks_and_dips_of_any_line) {
  EXPECT_TRUE(rc::check([] {
    const auto y = *rc::gen::container<std::vector<double>>(
        rc::gen::map(rc::gen::inRange(-1000, 1000), [](int i) { return double(i); }));
    const std::size_t most = *rc::gen::inRange(8, 200);
    const auto kept = drawing::thinned(y, most);
    RC_ASSERT(kept.size() <= std::max<std::size_t>(most, 0));
    RC_ASSERT(std::is_sorted(kept.begin(), kept.end()));
    RC_ASSERT(std::adjacent_find(kept.begin(), kept.end()) == kept.end());
    if (y.empty()) return;
    RC_ASSERT(kept.front() == 0 && kept.back() == y.size() - 1);
    double low = y[kept[0]], high = low;
    for (const std::size_t i : kept) low = std::min(low, y[i]), high = std::max(high, y[i]);
    RC_ASSERT(low == *std::min_element(y.begin(), y.end()));
    RC_ASSERT(high == *std::max_element(y.begin(), y.end()));
  }));
}

TEST(Thinned, keeps_a_single_spike_among_half_a_million_points) {
  std::vector<double> y(500000, 3.3);
  y[271828] = 2.1;
  const auto kept = drawing::thinned(y, 2000);
  EXPECT_LE(kept.size(), 2000u);
  EXPECT_NE(std::find(kept.begin(), kept.end(), 271828u), kept.end());
}

}  // namespace
