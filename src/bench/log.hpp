// SPDX-License-Identifier: Apache-2.0
// A tester's log once it has been understood: columns of plain numbers, and what was left out.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "base/finding.hpp"

namespace bench {

/// What a column of the file was taken to mean.
struct Column {
  std::string meaning;  ///< "time", "voltage", "current", "capacity", "energy", "temperature", …
  std::string header;   ///< as it stands in the file
  std::string unit;     ///< of the file
  double scale = 1.0;   ///< file value times scale is s, V, A, Ah, Wh or °C
};

/// A row of the file that was not used, and why. The bytes stay in the project.
struct LeftOut {
  std::size_t line = 0;
  std::string reason;
};

/// Measured values, one entry a row used. Discharge current is positive.
struct Log {
  std::vector<double> time_s;  ///< from the first row, never falling
  std::vector<double> voltage_V;
  std::vector<double> current_A;
  std::vector<double>
      temperature_C;  ///< of the cell; empty where the file has none, NaN where a row has none
  std::vector<Column> columns;
  std::vector<LeftOut> left_out;
  std::vector<base::Finding> findings;
  bool written_on_change = false;  ///< a value holds until the next row

  [[nodiscard]] std::size_t rows() const { return time_s.size(); }
};

}  // namespace bench
