// SPDX-License-Identifier: Apache-2.0
#include "project/settings_page.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "project/settings.hpp"

namespace project {
namespace {

std::string range_of(const Row& row) {
  if (row.kind == Row::Kind::text) return "text";
  if (row.kind == Row::Kind::choice) {
    std::vector<std::string> list;
    for (const Choice& c : row.choices)
      list.push_back(c.code == c.words ? fmt::format("`{}`", c.code)
                                       : fmt::format("`{}` ({})", c.code, c.words));
    return fmt::format("{}", fmt::join(list, ", "));
  }
  return fmt::format("{:g} … {:g}{}{}", row.min, row.max, row.unit.empty() ? "" : " ", row.unit);
}

}  // namespace

std::string settings_page() {
  std::string text;
  std::string_view table;
  for (const Row* row : catalogue()) {
    if (row->table != table)
      text += fmt::format(
          "\n## [{}]\n\n| key | what it is | range | usual value | where that comes from |\n"
          "|---|---|---|---|---|\n",
          row->table);
    table = row->table;
    const std::string usual = row->must_be_said      ? "must be given"
                              : row->usual().empty() ? "none"
                                                     : row->usual();
    text +=
        fmt::format("| `{}` | {}{}{} | {} | {} | {} |\n", row->key, row->label,
                    row->help.empty() ? "" : "; ", row->help, range_of(*row), usual, row->basis);
  }
  return text;
}

}  // namespace project
