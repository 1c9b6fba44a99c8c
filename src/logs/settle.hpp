// SPDX-License-Identifier: Apache-2.0
// What the rows together decide: units, order of dates, clock, sign; and what is left out of them.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "findings/finding.hpp"
#include "logs/columns.hpp"
#include "logs/dirt.hpp"
#include "logs/raw_rows.hpp"
#include "logs/read_options.hpp"
#include "logs/sign.hpp"

namespace logs {

/// Rows that were left out, by reason; and the first that speaks against the log as a whole.
class LeftOutList {
 public:
  void add(std::string_view reason, std::size_t line);
  /// The same for a fault that only a few rows may have (see `refuse_if_many`).
  /// `found` is what the error quotes where the reason, which many rows share, is not enough.
  void add_fault(std::string_view reason, std::size_t line, std::size_t column,
                 std::string_view expected, std::string_view found = "");
  /// A fault that left no row out.
  void doubt(std::string_view found, std::size_t line, std::size_t column,
             std::string_view expected);
  /// Throws InputError at the first fault where more than one row in a hundred has one.
  void refuse_if_many(std::size_t rows_used) const;
  [[nodiscard]] std::vector<LeftOut> take() { return std::move(list_); }

 private:
  std::vector<LeftOut> list_;
  std::size_t faults_ = 0, line_ = 0, column_ = 0;
  std::string found_, expected_;
};

/// Takes raw rows batch by batch and makes one Log of them. The first batch decides units, the
/// order of dates and whether the log was written on change; the sign is decided at the end.
class Settler {
 public:
  Settler(const Layout& layout, Roles roles, const ReadOptions& options, TimeKind time_kind);

  /// Digests the rows and empties them. Returns a question where they can be read in two ways.
  [[nodiscard]] std::optional<Question> take(RawRows& rows);
  /// The log, or what stays open. `take` must have seen all rows.
  [[nodiscard]] std::variant<Log, Question> finish();

  LeftOutList& left_out() { return left_out_; }
  void note(findings::Id id, std::string what, std::string where,
            findings::Severity severity = findings::Severity::note, std::string remedy = "");

 private:
  struct Clock {  // runs on from batch to batch
    bool begun = false;
    double last_raw = 0.0, first_raw = 0.0, offset = 0.0, usual_s = 0.0;
    std::size_t rows_since_start = 0;
    std::size_t restarts = 0, midnights = 0, jumps = 0, hours_back = 0;
    std::size_t restart_line = 0, jump_line = 0;
  };

  std::optional<Question> decide(RawRows& rows);
  std::optional<Question> decide_date_order(RawRows& rows);
  std::optional<Question> decide_units(const RawRows& rows);
  void refuse_other_cells(const RawRows& rows, double middle_V) const;
  std::optional<Question> settle_sign();
  std::optional<Question> sign_as_told();
  std::optional<Question> sign_of_unsigned();
  std::optional<Question> sign_by_voltage();
  void give_signs(const UnsignedReading& reading);
  void flip();
  void look_at_state(const RawRows& rows);
  struct Walk;
  void settle_clock(RawRows& rows);
  bool goes_back(Walk& walk, std::size_t k, double usual);
  bool goes_on(Walk& walk, std::size_t k, double usual);
  bool passes_midnight(double step);
  void join_at_restart(double raw, double last_final);
  [[nodiscard]] bool repeats_from(const RawRows& rows, std::size_t k, double raw) const;
  void spread_coarse_stamps(RawRows& rows, std::size_t from);
  void scale(RawRows& rows);
  void sign_from_state(RawRows& rows);
  void drop_dirt(RawRows& rows);
  void find_gaps(const RawRows& rows);
  void fill_gaps_from_counter(const RawRows& rows);
  void append(const RawRows& rows);
  void look_for_stuck_sensors();
  void report();
  void report_clock();
  void report_gaps();
  void report_left_out();
  void report_counter();
  void report_resolution();
  void list_columns();
  [[nodiscard]] std::string header(const Roles::Role& role) const;

  const Layout& layout_;
  Roles roles_;
  ReadOptions options_;
  TimeKind time_kind_;
  Log log_;
  LeftOutList left_out_;
  Clock clock_;
  DirtFinder dirt_;
  std::vector<char> keep_;
  std::vector<double> final_s_;
  bool decided_ = false, month_first_ = false, coarse_ = false, by_state_ = false;
  bool sign_known_ = false, temperature_doubtful_ = false;
  Flow last_flow_ = Flow::discharge;
  std::size_t says_charge_ = 0, says_discharge_ = 0;  ///< rows whose words say it of a positive one
  std::size_t unsaid_rows_ = 0;
  std::size_t repeat_row_ = 0;            ///< where they begin
  std::optional<double> repeated_until_;  ///< raw time up to which rows are written a second time
  bool counter_begun_ = false;
  double counter_first_ = 0.0, counter_last_ = 0.0;
  double width_ = 1.0;  ///< of what `condense` joins
  std::size_t used_ = 0, gap_line_ = 0, rest_gap_line_ = 0;
};

}  // namespace logs
