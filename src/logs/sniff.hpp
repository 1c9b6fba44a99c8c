// SPDX-License-Identifier: Apache-2.0
// How a delimited log is laid out: separator, decimal mark, where its header stands.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/delimited_text.hpp"
#include "logs/reading.hpp"

namespace logs {

/// What the first rows leave open about their marks.
enum class MarkDoubt : std::uint8_t {
  none,
  either,  ///< every mark stands before three digits: decimals or thousands
  mixed,   ///< decimal points and decimal commas in one file
};

struct Layout {
  base::Dialect dialect;
  Marks marks;
  MarkDoubt doubt = MarkDoubt::none;
  std::size_t header_line = 0;
  std::size_t first_data_line = 0;
  std::vector<std::string> headers;
  std::vector<std::string> units_row;  ///< empty where the line after the header holds no units
  std::vector<std::string> first_row;  ///< fields of the first data row
  std::vector<std::vector<std::string>> rows;    ///< the first rows of readings
  std::vector<std::vector<std::string>> sample;  ///< rows spread evenly over the bytes looked at
  std::size_t sample_stride = 1;                 ///< every so manieth row of them
  bool header_known = true;  ///< false: no word of the header is known, or there is none
  /// How often each column showed each MarkEvidence.
  std::vector<std::array<std::size_t, 5>> evidence;
};

/// Looks at the first bytes of a log (whole lines as far as they go). `complete`: these are all the
/// bytes. `names` are column names that a person gave, "#3" for the third; a line that holds one is
/// a header. Where no line above the readings has a word that is known, the nearest of words over
/// as many columns is the header; where there is none the columns are called #1, #2 and so on.
/// Throws InputError for an empty log, one with a header and nothing else, and for bytes that are
/// not a table.
[[nodiscard]] Layout sniff(std::string_view head, bool complete,
                           const std::vector<std::string>& names = {});

}  // namespace logs
