// SPDX-License-Identifier: Apache-2.0
#include "bench/lot.hpp"

#include <numeric>

#include <gtest/gtest.h>

namespace {

bench::LotQuantity quantity(std::vector<double> values, double u) {
  bench::LotQuantity q{"capacity_Ah", "capacity", "Ah", {}, {}};
  for (const double v : values) {
    q.labels.push_back("K" + std::to_string(q.labels.size() + 1));
    q.values.push_back({v, u});
  }
  return q;
}

// Data of Tietjen and Moore with its published Grubbs statistic. [NIST-EDA] 1.3.5.17.1
TEST(Lot, finds_the_published_outlier_by_both_tests) {
  const auto q = quantity({199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57}, 0.2);
  const auto o = bench::outliers_of(q).value();
  EXPECT_EQ(o.by_grubbs, std::vector<std::size_t>{7});
  EXPECT_NEAR(o.grubbs_statistic, 2.4687, 1e-4);
  EXPECT_EQ(o.by_median, std::vector<std::size_t>{7});
  const auto d = bench::distribution_of(q);
  EXPECT_DOUBLE_EQ(d.median, 201.37);
  EXPECT_EQ(std::accumulate(d.histogram.counts.begin(), d.histogram.counts.end(), std::size_t{0}),
            8u);
  EXPECT_FALSE(bench::outliers_of(quantity({1, 1, 1, 1, 1, 1, 1}, 0.1)).has_value());
  EXPECT_FALSE(bench::outliers_of(quantity({1, 2, 3}, 0.1)).has_value());
}

TEST(Lot, judges_with_a_guard_band) {
  const auto verdicts = bench::judge_lot(quantity({98.0, 99.9, 102.0}, 0.5),
                                         {100.0, bench::LimitSide::lower}, 0.05, 0.0);
  EXPECT_EQ(verdicts[0].verdict, bench::Verdict::reject);
  EXPECT_EQ(verdicts[1].verdict, bench::Verdict::undecided);
  EXPECT_EQ(verdicts[2].verdict, bench::Verdict::accept);
  const auto upper =
      bench::judge_lot(quantity({98.0}, 0.0), {97.9, bench::LimitSide::upper}, 0.05, 1.0);
  EXPECT_EQ(upper[0].verdict, bench::Verdict::undecided);  // takes the meter's where none is given
}

}  // namespace
