// SPDX-License-Identifier: Apache-2.0
// The careful way through a log's rows: whatever stands in them, one row at a time.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/delimited_text.hpp"
#include "logs/columns.hpp"
#include "logs/raw_rows.hpp"
#include "logs/read_options.hpp"
#include "logs/settle.hpp"

namespace logs {

/// How the time column is written, from the first row of readings.
[[nodiscard]] TimeKind time_kind_of(const Layout& layout, const Roles& roles);

/// Adds up what a counter moved, either way; a counter that falls to near nothing starts again.
class CounterSum {
 public:
  double add(double value);

 private:
  bool begun_ = false;
  double last_ = 0.0, sum_ = 0.0, usual_ = 0.0;
};

class CarefulRows {
 public:
  CarefulRows(const Layout& layout, const Roles& roles, const ReadOptions& options,
              TimeKind time_kind, Settler& settler);

  /// Takes a row into `rows`; false where it holds no reading that counts. Throws InputError where
  /// text stands for a number, unless bad rows are to be left out.
  bool take(const base::Row& row, RawRows& rows);
  /// Rows of other cells, where no channel was named.
  [[nodiscard]] std::optional<Question>& question() { return question_; }
  /// After the last row: what was passed over is noted.
  void finish();
  /// The last row that the quick way took was so wide.
  void last_width(std::size_t bytes) { last_width_ = bytes; }

 private:
  struct Value {
    double value = 0.0;
    bool skip = false;
  };
  struct Waiting {  // a row without a value: dirt where readings follow, a sum where none do
    std::string found, expected;
    std::size_t line = 0, column = 0;
    bool words = false;  ///< words where a number must stand
  };
  bool take_short(const base::Row& row);
  bool cut_off(const base::Row& row);
  [[nodiscard]] bool cut_short(const base::Row& row) const;
  [[nodiscard]] bool unreadable(const base::Row& row) const;
  [[nodiscard]] bool words_only(const base::Row& row) const;
  [[nodiscard]] bool time_like(std::string_view field) const;
  bool other_channel(const base::Row& row);
  bool header_again(const base::Row& row);
  void refuse_or_leave_out(const base::Row& row, std::size_t column, std::string found,
                           std::string expected);
  void wait(const base::Row& row, std::size_t column, std::string found, std::string expected,
            bool words = false);
  [[nodiscard]] bool sums_up(const base::Row& row) const;
  void pass_over(std::size_t line);
  void count_waiting();
  std::optional<double> current_of(const base::Row& row);
  Value value_at(const base::Row& row, const Roles::Role& role, std::string_view what);
  std::optional<double> time_of(const base::Row& row);
  std::optional<double> date_and_clock(const base::Row& row);
  std::optional<double> day_seconds(const Date& date, double clock_s);
  void take_others(const base::Row& row, RawRows& rows);

  const Layout& layout_;
  const Roles& roles_;
  const ReadOptions& options_;
  TimeKind time_kind_;
  Settler& settler_;
  bool minutes_seconds_ = false, order_open_ = false;
  std::size_t needed_ = 0, headers_again_ = 0, passed_over_ = 0, passed_over_line_ = 0;
  std::size_t last_decimals_ = 0, last_width_ = 0, taken_ = 0, cut_line_ = 0;
  double other_time_ = 0.0;
  std::string header_text_, last_state_, first_channel_;
  Flow last_flow_ = Flow::unknown;
  CounterSum counter_, charge_counter_;
  std::vector<Waiting> waiting_;
  std::optional<Question> question_;

 public:
  /// The counter's sum, which the quick way goes on with.
  [[nodiscard]] CounterSum& counter() { return counter_; }
};

}  // namespace logs
