// SPDX-License-Identifier: Apache-2.0
// A tester's log once it has been understood: columns of plain numbers, and what was left out.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "findings/finding.hpp"

namespace logs {

/// What a column of the file was taken to mean.
struct Column {
  std::string meaning;  ///< "time", "voltage", "current", "capacity", "energy", "temperature", …
  std::string header;   ///< as it stands in the file
  std::string unit;     ///< of the file
  double scale = 1.0;   ///< file value times scale is s, V, A, Ah, Wh or °C
};

/// Rows of the file that were not used, and why. The bytes stay in the project.
struct LeftOut {
  std::string reason;
  std::size_t count = 0;
  std::vector<std::size_t> lines;  ///< the first few
};

/// A stretch of time without rows.
struct Gap {
  double start_s = 0.0, end_s = 0.0;
  bool flowing = false;      ///< a current flowed before and after it
  double doubtful_Ah = 0.0;  ///< what a straight line across it carries
  bool counted = false;      ///< the tester's own counter ran across it
  double counter_Ah = 0.0;   ///< and moved this much
};

/// Measured values, one entry a row used. Discharge current is positive.
///
/// Each row stands for a share of the log's time: half the interval on either side, or, in a log
/// written on change, the interval behind it. A long interval between a row at rest and one that
/// flows is all the rest's: testers write a row where a step begins. A gap across which the
/// tester's own counter ran carries what that counter says. `charge_As` and `energy_Ws` are what
/// flowed in that share, discharge positive. In a long log rows that say the same are joined
/// (`condense`): a row then stands for a longer share, and its charge and energy are the sums over
/// all that it joins, so that integrals stay those of the file.
struct Log {
  std::vector<double> time_s;  ///< from the first row, never falling
  std::vector<double> voltage_V;
  std::vector<double> current_A;
  std::vector<double>
      temperature_C;  ///< of the cell; empty where the file has none, NaN where a row has none
  std::vector<double> share_s, charge_As, energy_Ws;  ///< filled by `fill_shares`
  std::vector<Column> columns;
  std::vector<LeftOut> left_out;
  std::vector<Gap> gaps;
  std::vector<findings::Finding> findings;
  std::size_t file_rows = 0;       ///< rows of the file that were used; zero: one each
  bool written_on_change = false;  ///< a value holds until the next row
  double gap_s = 0.0;              ///< a longer interval is a gap; zero: none is
  double edge_s = 0.0;  ///< a longer interval between rest and flow is all the rest\'s; zero: none
  double voltage_step_V = 0.0, current_step_A = 0.0;  ///< resolution; zero where unknown
  double counter_Ah = 0.0;  ///< charge that the tester's own counter moved, both ways; zero: none

  [[nodiscard]] std::size_t rows() const { return time_s.size(); }
  [[nodiscard]] std::size_t rows_used() const { return file_rows > 0 ? file_rows : rows(); }
  [[nodiscard]] std::size_t rows_left_out() const;
};

/// Works out the shares of rows `from` to the end; the last row's share ends with the row.
void fill_shares(Log& log, std::size_t from = 0);

/// Joins rows of one direction of current whose current and voltage differ by little, until at most
/// `most` rows are left, widening what counts as little as far as it must; keeps the rows around
/// every step of the current. Needs shares. `width` says how little is little: start at 1; it is
/// kept between calls, so that a log that grows is joined evenly.
void condense(Log& log, std::size_t most, double& width);

}  // namespace logs
