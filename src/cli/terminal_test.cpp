// SPDX-License-Identifier: Apache-2.0
#include "cli/terminal.hpp"

#include <sstream>

#include <gtest/gtest.h>

namespace {

TEST(Wrap, keeps_every_line_within_its_columns) {
  const std::string text =
      "The quick brown fox ± jumps over the lazy dog, and then it does so again and again until "
      "the line is full.";
  for (const std::size_t columns : {30u, 50u, 80u})
    for (const std::size_t indent : {0u, 4u, 10u}) {
      std::istringstream lines(std::string(indent, ' ') + cli::wrap(text, columns, indent));
      for (std::string line; std::getline(lines, line);) EXPECT_LE(cli::width(line), columns);
    }
}

TEST(Table, lines_up_figures_on_the_right_with_a_rule_under_the_head) {
  EXPECT_EQ(cli::table({{"cell"}, {"Ah", true}}, {{"a", "9.5"}, {"long", "10.25"}}),
            "cell     Ah\n───────────\na       9.5\nlong  10.25\n");
}

}  // namespace
