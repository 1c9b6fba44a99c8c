// SPDX-License-Identifier: Apache-2.0
// How a delimited log is laid out: separator, decimal mark, where its header stands.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "base/delimited_text.hpp"

namespace bench {

struct Layout {
  base::Dialect dialect;
  char decimal_mark = '.';
  char thousands_mark = '\0';  ///< '\0' where there is none
  std::size_t header_line = 0;
  std::size_t first_data_line = 0;
  std::vector<std::string> headers;
  std::vector<std::string> units_row;  ///< empty where the line after the header holds no units
  std::vector<std::string> first_row;  ///< fields of the first data row
  bool marks_doubtful = false;         ///< commas always before three digits: decimals or thousands
};

/// Looks at the first bytes of a log (whole lines as far as they go). `complete`: these are all the
/// bytes. Throws InputError for an empty log, one without a header, one with a header and nothing
/// else, and for bytes that are not a table.
[[nodiscard]] Layout sniff(std::string_view head, bool complete);

/// True where the field can be read as a number with this decimal mark (and thousands marks
/// between).
[[nodiscard]] bool numeric(std::string_view field, char decimal_mark);

}  // namespace bench
