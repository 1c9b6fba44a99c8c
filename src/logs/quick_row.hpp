// SPDX-License-Identifier: Apache-2.0
// The quick way through rows of plain numbers: marks are found 64 bytes at a time, digits turned
// into numbers eight at a time. It reads only rows that leave no doubt, gives the very values that
// base::parse_number gives, and passes on every other row; what a row means when it is not plain is
// decided in one place, the reader's careful way.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <vector>

namespace logs {

/// Which fields of a row are wanted, and where their numbers go.
struct QuickPlan {
  char delimiter = ',';
  char decimal_mark = '.';
  std::vector<int> slot;  ///< one a field, up to the last that is wanted; −1: passed over
  /// Fields of a whole row; a row may have more.
  std::size_t least_fields = 0;
};

/// The numbers of one row, by slot.
using QuickSlots = std::array<double, 8>;

/// Reads rows of one block, which must stay in place.
class QuickRows {
 public:
  /// Rows are read while they end this far before the block's end, so that no load leaves it.
  static constexpr std::size_t margin = 160;

  /// A row that begins with the block is left to the careful way: no load may begin before it.
  /// `wide`: with the vector instructions that most machines have; the values are the same.
  QuickRows(const QuickPlan& plan, const char* begin, const char* end,
            bool wide = machine_is_wide())
      : plan_(plan),
        begin_(begin + 16),
        end_(end - begin > std::ptrdiff_t{margin} ? end - margin : begin),
        wide_(wide) {
    seek(begin);
  }
  /// Goes on at `row`, where a row begins.
  void seek(const char* row);
  /// Reads the row that begins at the current place and goes to the next. False, with the place
  /// unchanged, where the row is not plain or too near the block's end.
  bool next(QuickSlots& values);
  [[nodiscard]] const char* place() const { return place_; }
  [[nodiscard]] static bool machine_is_wide();

 private:
  template <class Digits>
  bool read_row(QuickSlots& values);
  bool next_wide(QuickSlots& values);
  const QuickPlan& plan_;
  const char* begin_;  ///< a row that begins before it might be read from outside the block
  const char* end_;
  bool wide_;
  const char* place_ = nullptr;
  const char* base_ = nullptr;  ///< the 64 bytes whose marks are in `marks_`
  std::uint64_t marks_ = 0;     ///< one bit a byte, those already passed cleared
};

}  // namespace logs
