// SPDX-License-Identifier: Apache-2.0
#include "logs/content.hpp"

#include <gtest/gtest.h>

#include "logs/pairs.hpp"

namespace {

using logs::Holds;
using logs::Meaning;

logs::Layout rows_of(std::vector<std::vector<std::string>> rows) {
  logs::Layout layout;
  layout.headers.resize(rows.front().size());
  layout.first_row = rows.front();
  layout.rows = layout.sample = std::move(rows);
  return layout;
}

TEST(Content, tells_what_a_column_holds_whatever_stands_above_it) {
  const auto c = logs::contents_of(rows_of({{"0:00:01.5", "04/02/2026", "3.301 V", "Charge", "a"},
                                            {"0:00:02.5", "04/02/2026", "3.302 V", "Rest", "b"}}));
  EXPECT_EQ(c[0].holds, Holds::clocks);
  EXPECT_EQ(c[1].holds, Holds::dates);
  EXPECT_EQ(c[2].holds, Holds::numbers);
  EXPECT_EQ(c[3].holds, Holds::flows);
  EXPECT_EQ(c[4].holds, Holds::words);
  EXPECT_TRUE(logs::could_mean(c[0], Meaning::time));
  EXPECT_FALSE(logs::could_mean(c[3], Meaning::voltage));
}

TEST(Content, knows_days_and_clocks_that_are_written_as_numbers) {
  const auto c = logs::contents_of(rows_of({{"46057", "0.25", "20260204", "81501"},
                                            {"46057", "0.26", "20260204", "81531"},
                                            {"46058", "0.27", "20260205", "81601"}}));
  EXPECT_EQ(logs::days_as_numbers(c[0]), logs::NumberForm::day_number);
  EXPECT_EQ(logs::clock_as_numbers(c[1]), logs::NumberForm::day_fraction);
  EXPECT_EQ(logs::days_as_numbers(c[2]), logs::NumberForm::ymd);
  EXPECT_EQ(logs::clock_as_numbers(c[3]), logs::NumberForm::hms);
}

TEST(Content, finds_a_pair_by_its_taking_turns) {
  const auto c = logs::contents_of(rows_of({{"5", "0", "5"}, {"0", "0", "5"}, {"0", "5", "-5"}}));
  EXPECT_TRUE(logs::take_turns(c[0], c[1]));
  EXPECT_FALSE(logs::take_turns(c[0], c[2]));
}

}  // namespace
