// SPDX-License-Identifier: Apache-2.0
#include "logs/careful_rows.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "logs/flow_words.hpp"

namespace logs {
namespace {

using base::InputError;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double day_s = 86400.0;
constexpr std::size_t most_sums = 3;  // rows below the readings that sum them up

std::string shown(std::string_view text) {
  std::string copy = base::to_utf8(text.substr(0, 60));
  for (char& c : copy)
    if (static_cast<unsigned char>(c) < 0x20 || c == '\x7f') c = '?';
  return text.size() > 60 ? copy + "…" : copy;
}

/// 20260204 as its day; nothing where it is none.
std::optional<Date> date_of_digits(double value) {
  const auto day = static_cast<long>(value);
  const Date date{static_cast<int>(day / 10000), static_cast<int>(day / 100 % 100),
                  static_cast<int>(day % 100), true};
  return seconds_of(date, DateOrder::ymd) ? std::optional(date) : std::nullopt;
}

double clock_of_digits(double value) {
  const auto clock = static_cast<long>(value);
  return double(clock / 10000 * 3600 + clock / 100 % 100 * 60 + clock % 100);
}

}  // namespace

TimeKind time_kind_of(const Layout& layout, const Roles& roles) {
  const std::string& first = layout.first_row.at(roles.time.index);
  if (roles.date && roles.clock_form != NumberForm::none) return TimeKind::date_and_clock;
  if (parse_date_and_clock(first)) return TimeKind::stamp;
  if (parse_reading(first, layout.marks)) return TimeKind::number;
  return roles.date ? TimeKind::date_and_clock : TimeKind::clock;
}

double CounterSum::add(double value) {
  if (std::isnan(value)) return sum_;
  if (begun_) {
    const double step = value - last_;
    const bool again = std::abs(value) < 0.1 * std::abs(last_) && std::abs(step) > 20.0 * usual_;
    sum_ += again ? std::abs(value) : std::abs(step);
    if (!again && step != 0.0) usual_ += 0.1 * (std::abs(step) - usual_);
  }
  begun_ = true;
  last_ = value;
  return sum_;
}

CarefulRows::CarefulRows(const Layout& layout, const Roles& roles, const ReadOptions& options,
                         TimeKind time_kind, Settler& settler)
    : layout_(layout), roles_(roles), options_(options), time_kind_(time_kind), settler_(settler) {
  const std::string heading = base::lower(layout.headers[roles.time.index]);
  minutes_seconds_ =
      roles.time.field.unit == "mm:ss" ||
      (heading.find("mm:ss") != std::string::npos && heading.find("h:mm") == std::string::npos);
  for (const std::string& h : layout.headers) header_text_ += h + '\x1f';
  needed_ = std::max({roles.time.index, roles.voltage.index, roles.current.index,
                      roles.charge_current ? roles.charge_current->index : 0,
                      roles.date ? roles.date->index : 0});
}

/// Text where a number must stand is more than dirt: it may mean that the file is misread.
void CarefulRows::refuse_or_leave_out(const base::Row& row, std::size_t column, std::string found,
                                      std::string expected) {
  if (!options_.leave_out_bad_rows)
    throw InputError({"", row.line, column}, std::move(found), std::move(expected),
                     "mend the row in a copy of the log, or leave such rows out and have them "
                     "counted: --leave-out-bad-rows");
  settler_.left_out().add(found, row.line);
}

void CarefulRows::wait(const base::Row& row, std::size_t column, std::string found,
                       std::string expected, bool words) {
  waiting_.push_back({std::move(found), std::move(expected), row.line, column, words});
  if (waiting_.size() > most_sums) count_waiting();
}

void CarefulRows::count_waiting() {
  for (const Waiting& w : waiting_) {
    if (w.words && !options_.leave_out_bad_rows)
      throw InputError({"", w.line, w.column}, w.found, w.expected,
                       "mend the row in a copy of the log, or leave such rows out and have them "
                       "counted: --leave-out-bad-rows");
    settler_.left_out().add_fault(w.found, w.line, w.column, w.expected);
  }
  waiting_.clear();
}

void CarefulRows::pass_over(std::size_t line) {
  ++passed_over_;
  if (passed_over_line_ == 0) passed_over_line_ = line;
}

/// The bytes end in the middle of this row: the rest of the log is whole.
bool CarefulRows::cut_off(const base::Row& row) {
  if (row.ended) return false;
  if (row.text.find(layout_.dialect.line_end) != std::string_view::npos) {
    // A quote that was never closed has swallowed rows.
    refuse_or_leave_out(row, 0,
                        fmt::format("the log ends in the middle of a row: '{}'", shown(row.text)),
                        "a whole last row");
    return true;
  }
  if (row.fields.size() > needed_ && !cut_short(row) && !unreadable(row)) return false;
  settler_.left_out().add("the last row, which the log's end cuts in the middle", row.line);
  cut_line_ = row.line;
  return true;
}

bool CarefulRows::take_short(const base::Row& row) {
  if (row.fields.size() > needed_) return false;
  if (words_only(row)) {
    pass_over(row.line);
  } else {
    settler_.left_out().add_fault(
        row.fields.size() == 1 ? "1 field" : fmt::format("{} fields", row.fields.size()), row.line,
        0, fmt::format("{} fields as in the header", layout_.headers.size()),
        fmt::format("{} field{} in '{}'", row.fields.size(), row.fields.size() == 1 ? "" : "s",
                    shown(row.text)));
  }
  return true;
}

bool CarefulRows::take(const base::Row& row, RawRows& rows) {
  if (question_ || row.line < layout_.first_data_line || row.text.empty()) return false;
  if (row.text.front() == '#' || base::trimmed(row.text).empty()) return false;
  if (cut_off(row) || take_short(row)) return false;
  if (roles_.channel && other_channel(row)) return false;
  const Value voltage = value_at(row, roles_.voltage, "voltage");
  if (voltage.skip) return false;
  const auto amps = current_of(row);
  if (!amps) return false;
  if (std::isnan(voltage.value) || std::isnan(*amps)) {
    const bool no_volts = std::isnan(voltage.value);
    const std::size_t column = no_volts ? roles_.voltage.index : roles_.current.index;
    wait(row, column + 1,
         fmt::format("'{}' as {}", shown(row.fields[column]), no_volts ? "voltage" : "current"),
         "a number");
    return false;
  }
  other_time_ = nan;
  const auto time = time_of(row);
  if (!time) {
    const std::string_view field = row.fields[roles_.time.index];
    const std::string found = fmt::format("'{}' as time", shown(field));
    if (words_only(row) || no_value(field))
      wait(row, roles_.time.index + 1, found, "a time like that of the rows before");
    else
      refuse_or_leave_out(row, roles_.time.index + 1, found, "a time like that of the rows before");
    return false;
  }
  if (!waiting_.empty()) count_waiting();
  rows.time.push_back(*time);
  if (order_open_) rows.other_time.push_back(other_time_);
  rows.voltage.push_back(voltage.value);
  rows.current.push_back(*amps);
  take_others(row, rows);
  last_decimals_ = row.fields.back().size();
  ++taken_;
  return true;
}

void CarefulRows::take_others(const base::Row& row, RawRows& rows) {
  const auto optional_value = [&](const std::optional<Roles::Role>& role) {
    if (!role || role->index >= row.fields.size()) return nan;
    return parse_reading(row.fields[role->index], layout_.marks).value_or(nan);
  };
  if (roles_.temperature) rows.temperature.push_back(optional_value(roles_.temperature));
  if (roles_.capacity) {
    double moved = counter_.add(optional_value(roles_.capacity));
    if (roles_.charge_capacity)
      moved += charge_counter_.add(optional_value(roles_.charge_capacity));
    rows.counter.push_back(moved);
  }
  if (roles_.state) {
    const std::string_view word =
        roles_.state->index < row.fields.size() ? row.fields[roles_.state->index] : "";
    if (word != last_state_) last_state_ = word, last_flow_ = flow_of(word);
    rows.flow.push_back(last_flow_);
  }
}

/// Nothing where the row is to be skipped.
std::optional<double> CarefulRows::current_of(const base::Row& row) {
  const Value current = value_at(row, roles_.current, "current");
  if (current.skip) return std::nullopt;
  if (!roles_.charge_current) return current.value;
  const Value charge = value_at(row, *roles_.charge_current, "charge current");
  if (charge.skip) return std::nullopt;
  // The direction that rests may be left empty.
  const auto or_zero = [](double x) { return std::isnan(x) ? 0.0 : std::abs(x); };
  return or_zero(current.value) -
         or_zero(charge.value) * roles_.charge_current->field.scale / roles_.current.field.scale;
}

/// The number in a needed field; NaN where the file says that there is none.
CarefulRows::Value CarefulRows::value_at(const base::Row& row, const Roles::Role& role,
                                         std::string_view what) {
  const std::string_view field = row.fields[role.index];
  if (const auto value = parse_reading(field, layout_.marks)) {
    // A unit beside the number counts for this number.
    if (!field.empty() && static_cast<unsigned char>(field.back()) > '9')
      if (const auto unit = read_unit(unit_behind(field, layout_.marks));
          unit && unit->meaning == role.field.meaning)
        return {*value * unit->scale / role.field.scale, false};
    return {*value, false};
  }
  if (no_value(field)) return {nan, false};
  if (header_again(row)) return {nan, true};
  if (words_only(row)) {
    pass_over(row.line);
    return {nan, true};
  }
  if (sums_up(row))
    wait(row, role.index + 1, fmt::format("'{}' as {}", shown(field), what), "a number", true);
  else
    refuse_or_leave_out(row, role.index + 1, fmt::format("'{}' as {}", shown(field), what),
                        "a number");
  return {nan, true};
}

/// A row with a word and without most of its values, as a sum below the readings has it.
bool CarefulRows::sums_up(const base::Row& row) const {
  std::size_t missing = 0;
  for (const std::size_t c : {roles_.time.index, roles_.voltage.index, roles_.current.index})
    missing += row.fields[c].find_first_of("0123456789") == std::string_view::npos;
  return missing >= 2;
}

/// The last line has no end: is its last number shorter than that of the row before?
bool CarefulRows::cut_short(const base::Row& row) const {
  if (row.fields.size() < layout_.first_row.size()) return true;
  if (last_decimals_ > 0) return taken_ > 0 && row.fields.back().size() + 1 < last_decimals_;
  return last_width_ > 0 && row.text.size() + 3 < last_width_;
}

bool CarefulRows::unreadable(const base::Row& row) const {
  for (const std::size_t c : {roles_.voltage.index, roles_.current.index})
    if (!parse_reading(row.fields[c], layout_.marks) && !no_value(row.fields[c])) return true;
  return row.fields[needed_] == "-";
}

bool CarefulRows::time_like(std::string_view field) const {
  return parse_reading(field, layout_.marks) || parse_clock(field, true) ||
         parse_date_and_clock(field) || parse_date(field);
}

/// A line of words between rows, or a sum below them: where a row has its time stand words.
bool CarefulRows::words_only(const base::Row& row) const {
  const std::size_t column = std::min(roles_.time.index, row.fields.size() - 1);
  const std::string_view field = base::trimmed(row.fields[column]);
  if (time_like(field)) return false;
  const bool digits = field.find_first_of("0123456789") != std::string_view::npos;
  if (!digits) return !no_value(field) || row.fields.size() <= needed_;
  return row.fields.size() <= needed_;
}

/// Rows of other cells: passed over where a channel was named, else a question.
bool CarefulRows::other_channel(const base::Row& row) {
  if (roles_.channel->index >= row.fields.size()) return false;
  const std::string_view value = base::trimmed(row.fields[roles_.channel->index]);
  if (!options_.channel.empty()) return value != options_.channel;
  if (first_channel_.empty()) first_channel_ = value;
  if (value == first_channel_ || value.empty() || header_again(row)) return false;
  if (!time_like(base::trimmed(row.fields[roles_.time.index]))) return false;  // a sum below
  question_ = Question{fmt::format("rows of several cells: '{}' is {}, then {}",
                                   base::to_utf8(layout_.headers[roles_.channel->index]),
                                   shown(first_channel_), shown(value)),
                       {fmt::format("the cell of {}", shown(first_channel_)),
                        fmt::format("the cell of {}", shown(value))},
                       fmt::format("--channel {}", shown(first_channel_))};
  return true;
}

bool CarefulRows::header_again(const base::Row& row) {
  std::string text;
  for (const std::string_view f : row.fields) text += std::string(base::trimmed(f)) + '\x1f';
  bool units = !layout_.units_row.empty();
  for (std::size_t k = 0; units && k < row.fields.size(); ++k)
    units = k < layout_.units_row.size() && base::trimmed(row.fields[k]) == layout_.units_row[k];
  if (text != header_text_ && !units) return false;
  headers_again_ += text == header_text_;
  return true;
}

void CarefulRows::finish() {
  for (const Waiting& w : waiting_) pass_over(w.line);
  if (!waiting_.empty())
    settler_.note(
        findings::Id::sum_below,
        fmt::format("{} row{} below the readings sum{} them up; passed over.", waiting_.size(),
                    waiting_.size() == 1 ? "" : "s", waiting_.size() == 1 ? "s" : ""),
        fmt::format("line {}", waiting_.front().line));
  passed_over_ -= waiting_.size();
  if (cut_line_ > 0)
    settler_.note(findings::Id::last_row_cut,
                  "The log ends in the middle of its last row; that row is left out, the others "
                  "count.",
                  fmt::format("line {}", cut_line_), findings::Severity::note,
                  "Where the tester was still running, take its log again when it is done.");
  if (headers_again_ > 0)
    settler_.note(findings::Id::header_again,
                  fmt::format("The header stands {} more time{} in the log; passed over.",
                              headers_again_, headers_again_ == 1 ? "" : "s"),
                  "");
  if (passed_over_ > 0)
    settler_.note(
        findings::Id::lines_of_words,
        fmt::format("{} line{} between or below the rows hold{} words, not readings; "
                    "passed over.",
                    passed_over_, passed_over_ == 1 ? "" : "s", passed_over_ == 1 ? "s" : ""),
        fmt::format("line {}", passed_over_line_));
}

std::optional<double> CarefulRows::time_of(const base::Row& row) {
  const std::string_view field = row.fields[roles_.time.index];
  switch (time_kind_) {
    case TimeKind::number:
      return parse_reading(field, layout_.marks);
    case TimeKind::clock:
      return parse_clock(field, minutes_seconds_);
    case TimeKind::stamp: {
      const auto stamp = parse_date_and_clock(field);
      if (!stamp) return std::nullopt;
      return day_seconds(stamp->date, stamp->clock_s);
    }
    case TimeKind::date_and_clock:
      break;
  }
  return date_and_clock(row);
}

std::optional<double> CarefulRows::date_and_clock(const base::Row& row) {
  const auto number = [&](std::size_t column) {
    return parse_reading(row.fields[column], layout_.marks);
  };
  std::optional<double> clock;
  if (roles_.clock_form == NumberForm::none) {
    clock = parse_clock(row.fields[roles_.time.index]);
  } else if (const auto value = number(roles_.time.index)) {
    clock =
        roles_.clock_form == NumberForm::day_fraction ? *value * day_s : clock_of_digits(*value);
  }
  if (!clock) return std::nullopt;
  if (roles_.date_form == NumberForm::none) {
    const auto date = parse_date(row.fields[roles_.date->index]);
    if (!date) return std::nullopt;
    return day_seconds(*date, *clock);
  }
  const auto day = number(roles_.date->index);
  if (!day) return std::nullopt;
  if (roles_.date_form == NumberForm::day_number) {
    constexpr double days_before_1970 = 25569.0;  // a spreadsheet's day 1 is the first of 1900
    return (*day - days_before_1970) * day_s + *clock;
  }
  const auto date = date_of_digits(*day);
  if (!date) return std::nullopt;
  return day_seconds(*date, *clock);
}

/// Seconds day-first, and beside them month-first where both orders are possible.
std::optional<double> CarefulRows::day_seconds(const Date& date, double clock_s) {
  if (date.year_first || options_.dates != DateOrder::unknown) {
    const auto day = seconds_of(date, options_.dates);
    if (!day) return std::nullopt;
    return *day + clock_s;
  }
  const auto dmy = seconds_of(date, DateOrder::dmy), mdy = seconds_of(date, DateOrder::mdy);
  if (!dmy && !mdy) return std::nullopt;
  order_open_ = true;
  other_time_ = mdy.value_or(nan) + clock_s;
  return dmy.value_or(nan) + clock_s;
}

}  // namespace logs
