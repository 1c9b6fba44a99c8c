// SPDX-License-Identifier: Apache-2.0
#include "logs/reading.hpp"

#include <gtest/gtest.h>

namespace {

using logs::MarkEvidence;

TEST(ParseReading, takes_what_testers_and_spreadsheets_write) {
  struct Row {
    const char* text;
    logs::Marks marks;
    double value;
  };
  for (const Row& r : {Row{"3.301 V", {'.', '\0'}, 3.301}, Row{"1.234,5", {',', '.'}, 1234.5},
                       Row{"1,234.5", {'.', ','}, 1234.5}, Row{"1'234.5", {'.', '\0'}, 1234.5},
                       Row{"1 234,5", {',', '\0'}, 1234.5},
                       Row{"\xE2\x88\x92"
                           "3.3",
                           {'.', '\0'},
                           -3.3},
                       Row{"1\xE2\x80\xAF"
                           "234,5",
                           {',', '\0'},
                           1234.5},
                       Row{"1\xA0"
                           "234.5",
                           {'.', '\0'},
                           1234.5},
                       Row{"2.5E-3", {'.', '\0'}, 0.0025}, Row{"0 s", {'.', '\0'}, 0.0}})
    EXPECT_EQ(logs::parse_reading(r.text, r.marks), r.value) << r.text;
}

TEST(ParseReading, refuses_what_is_no_number) {
  for (const char* text : {"", "-", "nan", "inf", "0x1F", "3.3x", "1.2.3", "12:30", "1,23", "1 23",
                           "--1", "1e400", "\xD9\xA3.\xD9\xA3"})
    EXPECT_FALSE(logs::parse_reading(text, {'.', '\0'}).has_value()) << text;
  EXPECT_FALSE(logs::parse_reading("1,23.5", {'.', ','}).has_value());
  EXPECT_FALSE(logs::parse_reading("12,3456", {'.', ','}).has_value());
}

TEST(NoValue, knows_the_words_for_nothing) {
  for (const char* text :
       {"", " ", "-", "---", "NaN", "n/a", "#N/A", "unavailable", "inf", "1e999"})
    EXPECT_TRUE(logs::no_value(text)) << text;
  for (const char* text : {"0", "x", "12:30", "3.3", "1e30"})
    EXPECT_FALSE(logs::no_value(text)) << text;
}

TEST(MarkEvidence, says_what_a_mark_can_be) {
  EXPECT_EQ(logs::mark_evidence("3.301"), MarkEvidence::point_or_thousands);
  EXPECT_EQ(logs::mark_evidence("0.301"), MarkEvidence::point_decimal);
  EXPECT_EQ(logs::mark_evidence("3,30"), MarkEvidence::comma_decimal);
  EXPECT_EQ(logs::mark_evidence("3,301"), MarkEvidence::comma_or_thousands);
  EXPECT_EQ(logs::mark_evidence("1.234,5"), MarkEvidence::comma_decimal);
  EXPECT_EQ(logs::mark_evidence("1,234.5"), MarkEvidence::point_decimal);
  EXPECT_EQ(logs::mark_evidence("1.234.567"), MarkEvidence::comma_decimal);
  EXPECT_EQ(logs::mark_evidence("12"), MarkEvidence::none);
  EXPECT_EQ(logs::mark_evidence("12:30"), MarkEvidence::none);
}

}  // namespace
