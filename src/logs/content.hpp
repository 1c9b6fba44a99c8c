// SPDX-License-Identifier: Apache-2.0
// What the fields of a column hold, whatever its header says; and which column is which where no
// header says it: what lies in a cell's window, what only rises, what the voltage answers.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "logs/header.hpp"
#include "logs/sniff.hpp"

namespace logs {

enum class Holds : std::uint8_t {
  nothing,
  numbers,
  clocks,  ///< "0:00:01.053"
  dates,   ///< "04/02/2026", "20260204", a spreadsheet's day number
  stamps,  ///< date and clock in one field
  flows,   ///< words that say charge, discharge or rest
  words
};

/// How a day or a clock is written as a bare number.
enum class NumberForm : std::uint8_t {
  none,
  ymd,           ///< 20260204
  day_number,    ///< 46057, a spreadsheet's day
  hms,           ///< 81501 for 08:15:01
  day_fraction,  ///< 0.34375 of a day
};

struct ColumnContent {
  Holds holds = Holds::nothing;
  std::vector<double> values;  ///< of a column of numbers, row by row; NaN where there is none
  double filled = 0.0;         ///< share of the rows that hold anything
  double least = 0.0, most = 0.0, middle = 0.0;
  bool whole = false;     ///< whole numbers only
  bool counts = false;    ///< goes up by one with every row
  double rises = 0.0;     ///< share of the steps that rise
  std::size_t falls = 0;  ///< steps that fall
  double jump = 0.0;      ///< largest step, as share of the range
};

/// One entry a column, from rows spread evenly over what was sniffed. "1.5 A" is a number.
[[nodiscard]] std::vector<ColumnContent> contents_of(const Layout& layout);

/// False where a column cannot mean this, whatever its header says: a time that falls at every
/// other row, a voltage of words.
[[nodiscard]] bool could_mean(const ColumnContent& content, Meaning meaning);

/// How these numbers would write days, where they can: all of them must be days.
[[nodiscard]] NumberForm days_as_numbers(const ColumnContent& content);
/// How these numbers would write the clock beside a column of days.
[[nodiscard]] NumberForm clock_as_numbers(const ColumnContent& content);

/// Columns that could be a role that no header names, the likeliest first.
struct ByContent {
  std::vector<std::size_t> time, voltage, current;
};
/// `taken[c]`: the column's header says what it is, and it is something else. `time`, `voltage`:
/// those that are known already.
[[nodiscard]] ByContent roles_by_content(const std::vector<ColumnContent>& contents,
                                         const std::vector<bool>& taken,
                                         std::optional<std::size_t> voltage,
                                         std::optional<std::size_t> time);

}  // namespace logs
