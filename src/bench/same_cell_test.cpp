// SPDX-License-Identifier: Apache-2.0
#include "bench/same_cell.hpp"

#include <cmath>

#include <gtest/gtest.h>

namespace {

using bench::CellTest;
using bench::Measure;

TEST(SameCell, counts_the_newest_complete_test_and_says_why) {
  const std::vector<CellTest> tests = {{.log = "C01-10.csv", .capacity_Ah = Measure{231.5, 0.6}},
                                       {.log = "C01-2.csv", .capacity_Ah = Measure{231.2, 0.6}},
                                       {.log = "C01-11.csv", .capacity_Ah = std::nullopt}};
  const auto chosen = bench::choose_test(tests).value();
  EXPECT_EQ(chosen.index, 0u);  // 10 comes after 2; 11 is not complete
  EXPECT_NE(chosen.rule.find("names"), std::string::npos);
  EXPECT_TRUE(chosen.disagreements.empty());
  EXPECT_EQ(bench::choose_test(tests, "C01-2.csv")->index, 1u);
  EXPECT_FALSE(bench::choose_test({}).has_value());
}

TEST(SameCell, goes_by_dates_where_all_logs_have_one) {
  const std::vector<CellTest> tests = {
      {.log = "b.csv", .ended_s = 100.0, .capacity_Ah = Measure{230.0, 0.6}},
      {.log = "a.csv", .ended_s = 200.0, .capacity_Ah = Measure{230.1, 0.6}}};
  EXPECT_EQ(bench::choose_test(tests)->index, 1u);
}

TEST(SameCell, tells_tests_that_disagree) {
  const std::vector<CellTest> tests = {{.log = "1", .capacity_Ah = Measure{231.5, 0.5}},
                                       {.log = "2", .capacity_Ah = Measure{222.1, 0.5}}};
  const auto chosen = bench::choose_test(tests).value();
  ASSERT_EQ(chosen.disagreements.size(), 1u);
  EXPECT_NEAR(chosen.disagreements[0].difference_Ah, 9.4, 1e-9);
  EXPECT_NEAR(chosen.disagreements[0].allowed_Ah, 2.0 * std::hypot(0.5, 0.5), 1e-9);
}

TEST(SameCell, learns_repeatability_from_pairs) {
  std::vector<std::vector<CellTest>> cells;
  for (const double step : {0.001, -0.001, 0.001, -0.001})
    cells.push_back({{.log = "1", .capacity_Ah = Measure{100.0, 0.1}},
                     {.log = "2", .capacity_Ah = Measure{100.0 * (1.0 + step), 0.1}}});
  EXPECT_NEAR(bench::repeatability_percent(cells).value(), 0.1 / std::sqrt(2.0), 1e-3);
  cells.resize(2);
  EXPECT_FALSE(bench::repeatability_percent(cells).has_value());
}

}  // namespace
