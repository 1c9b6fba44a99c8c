// SPDX-License-Identifier: Apache-2.0
// What one charge or discharge shows by itself, and what it cannot: a record too short for a trend.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "watch/record.hpp"

namespace watch {

/// What stands out in one cell.
enum class Odd : std::uint8_t {
  none,
  low_at_empty,  ///< small or leaking: one charge cannot tell
  off_on_flat,   ///< joint, resistance or reading error: one current cannot tell
};
struct OddCell {
  Odd what = Odd::none;
  double measured_V = 0.0, median_V = 0.0;
  double z = 0.0;  ///< modified z-score against the other cells [NIST-EDA]
};

/// Keeps the emptiest moment and the flattest part of what passes; memory does not grow.
class ShortRecord {
 public:
  explicit ShortRecord(int series);
  void add(const Reading& reading);
  /// One entry a cell.
  [[nodiscard]] std::vector<OddCell> odd_cells() const;
  /// The current hardly changed: what is ohmic and what is not cannot be told apart.
  [[nodiscard]] bool one_current() const;
  /// The median cell came to the end where a cell's charge shows.
  [[nodiscard]] bool saw_empty() const { return lowest_V_ < 3.18; }

 private:
  std::vector<float> at_lowest_, room_;
  double lowest_V_ = 9.0;
  std::vector<double> flat_sum_;
  double flat_ = 0.0;
  double sum_A_ = 0.0, squares_A_ = 0.0, n_A_ = 0.0, most_A_ = 0.0;
};

}  // namespace watch
