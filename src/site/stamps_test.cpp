// SPDX-License-Identifier: Apache-2.0
#include "site/stamps.hpp"

#include <gtest/gtest.h>

namespace {

TEST(Stamps, are_read_with_seconds_t_and_offsets_and_nothing_else) {
  const auto at = [](std::string_view text) { return site::stamp_of(text); };
  ASSERT_TRUE(at("1970-01-02 01:45").has_value());
  EXPECT_EQ(at("1970-01-02 01:45")->minute, 1440 + 105);
  EXPECT_FALSE(at("1970-01-02 01:45")->offset_min.has_value());
  EXPECT_EQ(at("1970-01-02T01:45:30Z")->offset_min, 0);
  EXPECT_EQ(at("1970-01-02T01:45:30.250+01:30")->offset_min, 90);
  EXPECT_EQ(at("1970-01-02 01:45-05:00")->offset_min, -300);
  for (const char* text : {"", "1970-01-02", "1970-13-02 01:45", "1970-01-02 24:00",
                           "1970-01-02 01:60", "1970-01-02 01:45 CET", "02.01.1970 01:45"})
    EXPECT_FALSE(at(text).has_value()) << text;
}

}  // namespace
