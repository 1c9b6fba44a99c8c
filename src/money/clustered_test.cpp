// SPDX-License-Identifier: Apache-2.0
#include "money/clustered.hpp"

#include <numeric>
#include <vector>

#include <gtest/gtest.h>

#include "base/small_random.hpp"
#include "base/statistics.hpp"

namespace {

using money::Rejects;

// 35 cells for 32 places at 3 % rejects: computed independently for correlations 0 to 0.20, and the
// cells for 95 %.
TEST(ClusteredRejects, give_the_odds_computed_elsewhere) {
  const double odds[] = {98.0, 94.4, 91.7, 90.2, 90.3};
  const double correlation[] = {0.0, 0.02, 0.05, 0.10, 0.20};
  const int cells[] = {0, 36, 37, 38, 39};
  for (int k = 0; k < 5; ++k) {
    const Rejects r{0.03, correlation[k]};
    const auto o = money::order_of(32, 35, r);
    EXPECT_NEAR(100.0 * o.odds, odds[k], 0.051) << k;
    EXPECT_NEAR(100.0 * o.odds_if_independent, 98.0, 0.051) << k;
    if (k > 0) {
      EXPECT_EQ(money::order_for(32, 0.95, r).order, cells[k]) << k;
    }
  }
}

TEST(ClusteredRejects, without_correlation_are_the_binomial_and_always_sum_to_one) {
  for (const int n : {1, 8, 35, 120})
    for (const double share : {0.0, 0.03, 0.4, 1.0})
      for (const double correlation : {0.0, 0.05, 0.6}) {
        const auto p = money::good_of(n, {share, correlation});
        EXPECT_NEAR(std::accumulate(p.begin(), p.end(), 0.0), 1.0, 1e-9);
        double mean = 0.0;
        for (std::size_t k = 0; k < p.size(); ++k) mean += double(k) * p[k];
        EXPECT_NEAR(mean, n * (1.0 - share), 1e-7 * n);
        if (correlation > 0.0 || share == 0.0 || share == 1.0) continue;
        double above = 0.0;
        for (std::size_t k = std::size_t(n / 2); k < p.size(); ++k) above += p[k];
        EXPECT_NEAR(above, base::binomial_at_least(n, 1.0 - share, n / 2), 1e-9);
      }
}

TEST(ClusteredRejects, of_two_lots_risk_less_of_a_large_shortage) {
  const Rejects r{0.03, 0.10};
  const auto one = money::order_of(32, 37, r, 1), two = money::order_of(32, 37, r, 2);
  EXPECT_GT(two.odds, one.odds);
  EXPECT_LT(two.expected_short, one.expected_short);
  EXPECT_NEAR(one.expected_spare - one.expected_short, 37 * 0.97 - 32, 1e-9);
  EXPECT_NEAR(two.expected_spare - two.expected_short, 37 * 0.97 - 32, 1e-9);
}

TEST(ClusteredRejects, are_learnt_from_own_lots) {
  // Six lots as even as chance makes them, and six of which one is bad.
  const std::vector<money::LotSeen> even = {{40, 1}, {40, 2}, {40, 1}, {40, 1}, {40, 0}, {40, 2}},
                                    uneven = {{40, 0}, {40, 0}, {40, 7}, {40, 0}, {40, 0}, {40, 0}};
  const Rejects a = money::learnt(even), b = money::learnt(uneven), none = money::learnt({});
  EXPECT_LT(a.correlation, none.correlation);
  EXPECT_GT(b.correlation, none.correlation);
  EXPECT_NEAR(a.share, 7.0 / 240.0, 0.01);
  EXPECT_NEAR(none.share, 0.03, 0.01);
  EXPECT_NEAR(none.correlation, 0.05, 0.02);
}

}  // namespace
