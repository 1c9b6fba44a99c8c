// SPDX-License-Identifier: Apache-2.0
// Rows as the file has them, in numbers: before units, sign and clock are settled.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "logs/log.hpp"

namespace logs {

enum class TimeKind : std::uint8_t { number, clock, stamp, date_and_clock };
enum class Flow : std::int8_t { unknown, rest, charge, discharge };

/// One entry a row. Values are the file's own; what the header's units say is not yet applied.
struct RawRows {
  std::vector<double> time;        ///< seconds where it was a clock or a stamp, else as written
  std::vector<double> other_time;  ///< with day and month the other way round; may be empty
  std::vector<double> voltage, current;
  std::vector<double> temperature;  ///< may be empty; NaN where a row has none
  std::vector<double> counter;      ///< the tester's charge; may be empty; NaN where a row has none
  std::vector<Flow> flow;           ///< from a column of words; may be empty
  std::vector<std::uint32_t> line;

  [[nodiscard]] std::size_t size() const { return time.size(); }
  void clear() {
    for (auto* column : {&time, &other_time, &voltage, &current, &temperature, &counter})
      column->clear();
    flow.clear();
    line.clear();
  }
  /// Keeps the rows for which `keep[i]` is true.
  template <class Flags>
  void retain(const Flags& keep) {
    const auto squeeze = [&](auto& column) {
      if (column.empty()) return;
      std::size_t kept = 0;
      for (std::size_t i = 0; i < column.size(); ++i)
        if (keep[i]) column[kept++] = column[i];
      column.resize(kept);
    };
    for (auto* column : {&time, &other_time, &voltage, &current, &temperature, &counter})
      squeeze(*column);
    squeeze(flow);
    squeeze(line);
  }
};

}  // namespace logs
