// SPDX-License-Identifier: Apache-2.0
#include "logs/quick_row.hpp"

#include <optional>
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "base/number.hpp"

namespace {

/// Reads the second row of a block that is long enough on both sides; nothing where it is not
/// plain.
std::optional<std::array<double, 3>> read(const std::string& row, bool wide, char delimiter = ',',
                                          char mark = '.') {
  logs::QuickPlan plan;
  plan.delimiter = delimiter;
  plan.decimal_mark = mark;
  plan.slot = {0, 1, 2};
  plan.least_fields = 3;
  const std::string before = "1,1,1,and some text to stand before it\n";
  const std::string text = before + row + "\n" + std::string(400, '1');
  logs::QuickRows rows(plan, text.data(), text.data() + text.size(), wide);
  rows.seek(text.data() + before.size());
  logs::QuickSlots values{};
  if (!rows.next(values)) return std::nullopt;
  EXPECT_EQ(rows.place(), text.data() + before.size() + row.size() + 1) << row;
  return std::array<double, 3>{values[0], values[1], values[2]};
}

TEST(QuickRows, give_the_very_values_of_the_careful_way) {
  for (const bool wide : {false, true})
    for (const char* row :
         {"0.000,3.3521,-46.0123", "1234567.125,3,0", "1580717701052,3.58022,-0.5",
          "12345678.1234567,0.00000001,99999999", "5.,.5,-.25", "1,2,3,more,fields", "1,2,3\r",
          "00012.50,-0,000000000000001"}) {
      const auto values = read(row, wide);
      ASSERT_TRUE(values.has_value()) << row;
      std::string_view rest = row;
      for (int k = 0; k < 3; ++k) {
        const std::size_t end = std::min(rest.find_first_of(",\r"), rest.size());
        EXPECT_EQ((*values)[static_cast<std::size_t>(k)],
                  base::parse_number(rest.substr(0, end)).value())
            << row << " field " << k;
        rest.remove_prefix(std::min(end + 1, rest.size()));
      }
    }
}

TEST(QuickRows, leave_what_is_not_plain_to_the_careful_way) {
  for (const bool wide : {false, true})
    for (const char* row : {"1,2", "1,2,x", "1,,3", "1,2.3.4,3", "1e3,2,3", "+1,2,3", "\"1\",2,3",
                            "1,2,nan", "1234567890123456,2,3", "1,2,3 V", "--1,2,3", "-,2,3",
                            "1,2,", "1, 2,3", "#1,2,3", "1,2,3,\"x"})
      EXPECT_FALSE(read(row, wide).has_value()) << row << (wide ? " wide" : "");
}

RC_GTEST_PROP(QuickRows, agree_on_any_number, ()) {
  const auto number = [] {
    const auto digits = *rc::gen::inRange(0, 12), decimals = *rc::gen::inRange(0, 8);
    std::string text = *rc::gen::arbitrary<bool>() ? "-" : "";
    for (int k = 0; k < digits; ++k) text += static_cast<char>('0' + *rc::gen::inRange(0, 10));
    if (decimals > 0 || digits == 0) text += '.';
    for (int k = 0; k < std::max(decimals, digits == 0 ? 1 : 0); ++k)
      text += static_cast<char>('0' + *rc::gen::inRange(0, 10));
    return text;
  };
  const std::array<std::string, 3> fields = {number(), number(), number()};
  const std::string row = fields[0] + "," + fields[1] + "," + fields[2];
  const auto wide = read(row, true), plain = read(row, false);
  RC_ASSERT(wide.has_value() == plain.has_value());
  if (!wide) return;  // too many digits for a double to hold exactly
  for (std::size_t k = 0; k < 3; ++k) {
    RC_ASSERT((*wide)[k] == (*plain)[k]);
    RC_ASSERT((*wide)[k] == base::parse_number(fields[k]).value());
  }
}

}  // namespace
