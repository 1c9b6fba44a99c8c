// SPDX-License-Identifier: Apache-2.0
#include "base/number.hpp"

#include <charconv>
#include <random>

#include <gtest/gtest.h>

namespace {

TEST(ParseNumber, equals_the_library_for_numbers_of_every_length) {
  std::mt19937_64 engine(1);
  for (int i = 0; i < 20000; ++i) {
    std::string text = engine() % 2 ? "-" : "";
    const int digits = 1 + int(engine() % 20), mark = int(engine() % 22);
    for (int d = 0; d < digits; ++d) {
      if (d == mark) text += '.';
      text += char('0' + engine() % 10);
    }
    if (engine() % 5 == 0) text += "E" + std::to_string(int(engine() % 40) - 20);
    double expected = 0.0;
    std::from_chars(text.data(), text.data() + text.size(), expected);
    ASSERT_EQ(base::parse_number(text).value(), expected) << text;
  }
}

TEST(ParseNumber, refuses_what_is_no_plain_number) {
  for (const char* text : {"", "-", "+", ".", "nan", "inf", "-inf", "1e400", "0x1F", "1.2.3", "1,2",
                           "12 ", " 12", "1e", "--1", "1-", "٣"})
    EXPECT_FALSE(base::parse_number(text)) << text;
  EXPECT_EQ(base::parse_number("1,25", ',').value(), 1.25);
  EXPECT_FALSE(base::parse_number("1.25", ','));
}

TEST(Listed, parts_at_commas_and_keeps_what_is_empty) {
  const std::vector<std::string_view> three = {"a", "", "b c"};
  EXPECT_EQ(base::listed(" a,, b c "), three);
  EXPECT_EQ(base::listed("").size(), 1u);
  EXPECT_EQ(base::listed("x,").size(), 2u);
}

TEST(ParseWithUnit, parts_number_and_unit) {
  EXPECT_EQ(base::parse_with_unit("350cm")->unit, "cm");
  EXPECT_EQ(base::parse_with_unit("3,301 V", ',')->value, 3.301);
  EXPECT_EQ(base::parse_with_unit("-1e-3 A")->value, -1e-3);
  EXPECT_FALSE(base::parse_with_unit("V 3"));
}

TEST(Convert, knows_kinds_and_refuses_to_mix_them) {
  EXPECT_NEAR(base::convert(77.0, "F", "C").value(), 25.0, 1e-12);
  EXPECT_NEAR(base::convert(10.0, "F", "mF").value(), 10000.0, 1e-9);
  EXPECT_NEAR(base::convert(298.15, "K", "C").value(), 25.0, 1e-9);
  EXPECT_NEAR(base::convert(300.0, "kgf", "N").value(), 2941.995, 1e-9);
  EXPECT_FALSE(base::convert(1.0, "kg", "m"));
  EXPECT_FALSE(base::convert(1.0, "furlong", "m"));
}

}  // namespace
