// SPDX-License-Identifier: Apache-2.0
#include "logs/clock.hpp"

#include <gtest/gtest.h>

namespace {

using logs::DateOrder;

TEST(ParseClock, reads_the_ways_testers_write_time) {
  EXPECT_DOUBLE_EQ(logs::parse_clock("1:02:03.5").value(), 3723.5);
  EXPECT_DOUBLE_EQ(logs::parse_clock("00:00:01,052").value(), 1.052);
  EXPECT_DOUBLE_EQ(logs::parse_clock("3d 00:00:01.052").value(), 259201.052);
  EXPECT_DOUBLE_EQ(logs::parse_clock("12:05:01 PM").value(), 43501.0);
  EXPECT_DOUBLE_EQ(logs::parse_clock("12:05:01 AM").value(), 301.0);
  EXPECT_DOUBLE_EQ(logs::parse_clock("123:00:00").value(), 442800.0);
  EXPECT_DOUBLE_EQ(logs::parse_clock("5:30", true).value(), 330.0);
  EXPECT_DOUBLE_EQ(logs::parse_clock("5:30", false).value(), 19800.0);
  for (const char* text : {"", "12", "1:60:00", "a:b:c", "1:2:3:4", "13:00:00 PM", "1:02:03x"})
    EXPECT_FALSE(logs::parse_clock(text)) << text;
}

TEST(ParseDate, keeps_day_and_month_apart_until_their_order_is_known) {
  const auto date = logs::parse_date("03/02/2020");
  ASSERT_TRUE(date);
  EXPECT_DOUBLE_EQ(logs::seconds_of(*date, DateOrder::dmy).value(),
                   1580688000.0);  // 3 February 2020, by `date -u`
  EXPECT_DOUBLE_EQ(logs::seconds_of(*date, DateOrder::mdy).value(), 1583107200.0);  // 2 March 2020
  EXPECT_FALSE(logs::seconds_of(*logs::parse_date("31.02.2020"), DateOrder::dmy));
  EXPECT_FALSE(logs::parse_date("1.2-2020"));
  const auto stamp = logs::parse_date_and_clock("2020-02-03T08:15:01.052+01:00");
  ASSERT_TRUE(stamp);
  EXPECT_DOUBLE_EQ(stamp->clock_s, 26101.052);
}

}  // namespace
