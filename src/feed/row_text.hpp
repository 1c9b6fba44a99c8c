// SPDX-License-Identifier: Apache-2.0
// Rows of a record as text: how they are laid out, and their numbers and times read quickly.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "logs/clock.hpp"

namespace feed {

struct RowLayout {
  char separator = ',';
  char decimal_mark = '.';
  std::vector<std::string> headers;
  std::size_t header_line = 0;   ///< counted from 1
  std::size_t header_bytes = 0;  ///< to the end of the header's line
};
/// Looks at the first bytes. Throws InputError (in no file) for what is no table with a header.
[[nodiscard]] RowLayout look_at(std::string_view head);

/// Splits one line; quotes around a field are dropped. Fields beyond `most` are not looked at.
void split(std::string_view line, char separator, std::vector<std::string_view>& fields);

/// A plain number quickly, anything else with care; NaN for what is none (also "unavailable").
[[nodiscard]] double number_in(std::string_view field, char decimal_mark);

/// Reads times in one form, that of the first.
class TimeReader {
 public:
  /// `unit_s` of a plain number, where the header says one; 0: by its size.
  TimeReader(logs::DateOrder order, double unit_s) : order_(order), unit_s_(unit_s) {}
  /// Seconds since 1970 (or since the record's start); NaN for what is no time.
  [[nodiscard]] double read(std::string_view field, char decimal_mark);
  /// The same of a date and a time of day apart.
  [[nodiscard]] double read(std::string_view date, std::string_view clock);
  [[nodiscard]] bool dated() const { return dated_; }
  /// Local time without a zone: an hour may come twice.
  [[nodiscard]] bool zoneless() const { return zoneless_; }

 private:
  logs::DateOrder order_;
  double unit_s_;
  bool dated_ = false, zoneless_ = false;
  std::string day_text_;
  double day_s_ = 0.0;
};

/// The order of day and month that these dates allow; unknown where both fit.
[[nodiscard]] logs::DateOrder order_of(const std::vector<std::string>& dates);

}  // namespace feed
