// SPDX-License-Identifier: Apache-2.0
#include "base/delimited_text.hpp"

#include <gtest/gtest.h>

namespace {

using Rows = std::vector<std::vector<std::string>>;

Rows scan(const std::string& text, base::Dialect dialect, std::size_t block) {
  Rows rows;
  base::RowScanner scanner(dialect);
  const auto take = [&](const base::Row& row) {
    rows.emplace_back(row.fields.begin(), row.fields.end());
  };
  for (std::size_t at = 0; at < text.size(); at += block)
    scanner.feed(std::string_view(text).substr(at, block), take);
  scanner.finish(take);
  return rows;
}

TEST(RowScanner, gives_the_same_rows_whatever_the_blocks) {
  const std::string text = "a,b\r\n\"x, \"\"y\"\"\",2\n\"two\nlines\",3\n5\",6\nlast,7";
  const Rows whole = scan(text, {}, text.size());
  ASSERT_EQ(whole.size(), 5u);
  EXPECT_EQ(whole[1], (std::vector<std::string>{"x, \"y\"", "2"}));
  EXPECT_EQ(whole[2], (std::vector<std::string>{"two\nlines", "3"}));
  for (std::size_t block = 1; block < 20; ++block) EXPECT_EQ(scan(text, {}, block), whole) << block;
}

TEST(RowScanner, splits_columns_set_apart_by_blanks) {
  const Rows rows =
      scan("       Elapsed      Amp\n 3d 00:00:01    0.5\n", {base::aligned_by_blanks, '\n'}, 7);
  EXPECT_EQ(rows[0], (std::vector<std::string>{"Elapsed", "Amp"}));
  EXPECT_EQ(rows[1], (std::vector<std::string>{"3d 00:00:01", "0.5"}));
}

TEST(CsvField, survives_reading_back_and_disarms_formulas) {
  for (const std::string text : {"plain", "a,b", "say \"x\"", "=1+1", "-5 apples", "'quoted",
                                 "two\nlines", " edge ", "@x", ""}) {
    const Rows rows = scan(base::csv_field(text) + ",end\n", {}, 3);
    ASSERT_EQ(rows.size(), 1u) << text;
    EXPECT_EQ(base::without_formula_guard(rows[0][0]), text);
  }
  EXPECT_EQ(base::csv_field("=1+1"), "'=1+1");
}

}  // namespace
