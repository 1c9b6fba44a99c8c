// SPDX-License-Identifier: Apache-2.0
#include "logs/read_log.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <optional>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "logs/quick_row.hpp"
#include "logs/raw_rows.hpp"
#include "logs/settle.hpp"
#include "logs/sniff.hpp"

namespace logs {
namespace {

using base::InputError;

constexpr std::size_t sniff_bytes = 256 * 1024, form_bytes = 1024;
// The first batch decides for all, so it is long; the later ones stay in the cache.
constexpr std::size_t first_batch_rows = std::size_t{1} << 18, batch_rows = std::size_t{1} << 14;
constexpr std::size_t longest_line = 1 << 20, most_columns = 2000;
constexpr double nan = std::numeric_limits<double>::quiet_NaN();

Flow flow_of(std::string_view text) {
  const std::string word = base::folded(base::to_utf8(text));
  const auto has = [&](std::string_view part) { return word.find(part) != std::string::npos; };
  if (has("rest") || has("idle") || has("paus") || has("ruhe") || has("repos") || has("rust"))
    return Flow::rest;
  if (has("dis") || has("dsg") || has("dch") || has("dchg") || has("entlad") || has("ontlad") ||
      has("decharg") || has("descarg"))
    return Flow::discharge;
  if (has("chg") || has("cha") || has("lad") || has("carga") || word == "cc" || word == "cv" ||
      has("cccv"))
    return Flow::charge;
  return Flow::unknown;
}

std::string shown(std::string_view text) {
  std::string copy = base::to_utf8(text.substr(0, 60));
  for (char& c : copy)
    if (static_cast<unsigned char>(c) < 0x20 || c == '\x7f') c = '?';
  return text.size() > 60 ? copy + "…" : copy;
}

/// Adds up what a counter moved, either way; a counter that falls to near nothing starts again.
class CounterSum {
 public:
  double add(double value) {
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

 private:
  bool begun_ = false;
  double last_ = 0.0, sum_ = 0.0, usual_ = 0.0;
};

}  // namespace

// In three steps: the first bytes fix the layout and the columns; every row is turned into numbers
// as it comes, the plain ones by the quick way; batches of rows go to the Settler.
class LogReader::Impl {
 public:
  explicit Impl(ReadOptions options) : options_(std::move(options)) {}

  void feed(std::string_view block) {
    if (question_) return;
    if (settler_) return scan(decoder_.decode(block));
    if (decoding_) {
      head_.append(decoder_.decode(block));
    } else {
      bytes_.append(block);
      if (bytes_.size() < form_bytes) return;
      begin_decoding();
    }
    if (head_.size() >= sniff_bytes) open(false);
  }

  ReadResult finish() {
    if (!settler_ && !question_) {
      if (!decoding_) begin_decoding();
      open(true);
    }
    if (question_) return std::move(*question_);
    if (decoder_.incomplete())
      throw InputError(
          {"", scanner_->lines() + 1, 0},
          "UTF-16 text with half a character left over: a byte is missing, or one too many",
          "a whole file", "copy the log again from the tester");
    scanner_->finish([this](const base::Row& row) { take(row); });
    digest();
    if (question_) return std::move(*question_);
    if (rows_seen_ == 0)
      throw InputError({"", layout_.header_line, 0}, "a header and no rows of readings",
                       "rows of readings below the header",
                       "export the log again; the tester may not have finished writing it");
    note_what_was_passed_over();
    return settler_->finish();
  }

 private:
  void begin_decoding() {
    decoding_ = true;
    head_.append(decoder_.decode(bytes_));
    bytes_ = {};
  }

  void open(bool complete) {
    std::vector<std::string> names;
    for (const auto& [meaning, column] : options_.columns) names.push_back(column.header);
    layout_ = sniff(std::string_view(head_).substr(0, sniff_bytes),
                    complete && head_.size() <= sniff_bytes, names);
    if (layout_.headers.size() > most_columns)
      throw InputError(
          {"", layout_.header_line, 0}, fmt::format("{} columns", layout_.headers.size()),
          fmt::format("at most {} columns", most_columns), "export only the tester's own columns");
    auto chosen = choose_columns(layout_, options_.columns);
    if (auto* question = std::get_if<Question>(&chosen)) {
      question_ = std::move(*question);
      return;
    }
    roles_ = std::get<Roles>(chosen);
    settle_marks();
    if (question_) return;
    find_time_kind();
    header_text_ = joined_header();
    plan_quick_way();
    needed_ = std::max({roles_.time.index, roles_.voltage.index, roles_.current.index,
                        roles_.charge_current ? roles_.charge_current->index : 0,
                        roles_.date ? roles_.date->index : 0});
    settler_.emplace(layout_, roles_, options_, time_kind_);
    scanner_.emplace(layout_.dialect);
    const std::string head = std::move(head_);
    head_ = {};
    scan(head);
  }

  /// "3,301" may be 3.301 or 3301, and a file may hold both kinds: the voltage tells, since a cell
  /// has about three volts; where it does not, a question.
  void settle_marks() {
    if (options_.decimal != DecimalRule::automatic) {
      const bool comma = options_.decimal == DecimalRule::comma;
      layout_.marks = comma ? Marks{',', '.'} : Marks{'.', ','};
      return;
    }
    if (layout_.doubt == MarkDoubt::none) return;
    if (layout_.doubt == MarkDoubt::mixed) {
      const auto seen = [&](std::size_t column, MarkEvidence e) {
        return column < layout_.evidence.size() &&
               layout_.evidence[column][static_cast<std::size_t>(e)] > 0;
      };
      bool points = false, commas = false;
      for (const std::size_t c : {roles_.time.index, roles_.voltage.index, roles_.current.index}) {
        points = points || seen(c, MarkEvidence::point_decimal);
        commas = commas || seen(c, MarkEvidence::comma_decimal);
      }
      if (points && commas) return ask_for_marks();
    }
    const Marks readings[] = {{'.', ','}, {',', '.'}};
    std::vector<Marks> possible;
    const double scale = roles_.voltage.unit_known ? roles_.voltage.field.scale : 0.0;
    for (const Marks marks : readings) {
      std::vector<double> volts;
      std::size_t unreadable = 0;
      for (const auto& row : layout_.rows)
        for (const std::size_t column : {roles_.voltage.index, roles_.current.index}) {
          if (column >= row.size() || no_value(row[column])) continue;
          const auto value = parse_reading(row[column], marks);
          unreadable += !value;
          if (value && column == roles_.voltage.index) volts.push_back(*value);
        }
      if (volts.empty() || unreadable > 0) continue;
      const double middle = base::median(volts) * (scale > 0.0 ? scale : 1.0);
      const bool a_cell =
          (middle > 0.5 && middle < 5.0) || (scale == 0.0 && middle > 500.0 && middle < 5000.0);
      if (a_cell) possible.push_back(marks);
    }
    if (possible.size() == 1) {
      layout_.marks = possible.front();
      return;
    }
    const bool by_voltage = layout_.doubt == MarkDoubt::either && scale == 0.0;
    if (by_voltage) {  // volts or millivolts, the same either way: the decimal mark it seems to be
      if (layout_.marks.thousands == '\0') return;
    }
    ask_for_marks();
  }

  void ask_for_marks() {
    const std::string& example = layout_.rows.front().at(roles_.voltage.index);
    question_ =
        Question{layout_.doubt == MarkDoubt::mixed ? "decimal points and decimal commas in one log"
                                                   : "a mark that parts decimals or thousands",
                 {fmt::format("'.' is the decimal mark: '{}' as it stands", shown(example)),
                  fmt::format("',' is the decimal mark: '{}' as it stands", shown(example))},
                 "--decimal point",
                 {"decimal=point", "decimal=comma"}};
  }

  void find_time_kind() {
    const std::string& first = layout_.first_row.at(roles_.time.index);
    const std::string heading = base::lower(layout_.headers[roles_.time.index]);
    minutes_seconds_ =
        heading.find("mm:ss") != std::string::npos && heading.find("h:mm") == std::string::npos;
    if (parse_reading(first, layout_.marks))
      time_kind_ = TimeKind::number;
    else if (roles_.date)
      time_kind_ = TimeKind::date_and_clock;
    else
      time_kind_ = parse_date_and_clock(first) ? TimeKind::stamp : TimeKind::clock;
  }

  [[nodiscard]] std::string joined_header() const {
    std::string text;
    for (const std::string& h : layout_.headers) text += h + '\x1f';
    return text;
  }

  /// Rows of plain numbers need no care; a column of words needs the careful way.
  void plan_quick_way() {
    quick_ = time_kind_ == TimeKind::number &&
             layout_.dialect.delimiter != base::aligned_by_blanks &&
             layout_.dialect.line_end == '\n' && !roles_.state && !roles_.channel &&
             !roles_.charge_current && !roles_.charge_capacity;
    if (!quick_) return;
    quick_plan_.delimiter = layout_.dialect.delimiter;
    quick_plan_.decimal_mark = layout_.marks.decimal;
    quick_plan_.least_fields = layout_.first_row.size();
    const auto want = [&](std::size_t column, int slot) {
      if (quick_plan_.slot.size() <= column) quick_plan_.slot.resize(column + 1, -1);
      quick_plan_.slot[column] = slot;
    };
    want(roles_.time.index, 0);
    want(roles_.voltage.index, 1);
    want(roles_.current.index, 2);
    if (roles_.temperature) want(roles_.temperature->index, 3);
    if (roles_.capacity) want(roles_.capacity->index, 4);
  }

  void scan(std::string_view block) {
    if (!quick_) return careful(block);
    // What the careful way has begun it ends: up to the end of its line, quotes minded.
    while (!block.empty() && !scanner_->between_rows()) {
      const std::size_t end = block.find('\n');
      const std::size_t part = end == std::string_view::npos ? block.size() : end + 1;
      careful(block.substr(0, part));
      block.remove_prefix(part);
    }
    const char* at = block.data();
    const char* const end = at + block.size();
    QuickSlots values{};
    QuickRows quick(quick_plan_, at, end);
    while (at < end) {
      if (scanner_->between_rows() && scanner_->lines() + 1 >= layout_.first_data_line &&
          quick.next(values)) {
        scanner_->skip_line();
        take_numbers(values);
        last_width_ = static_cast<std::size_t>(quick.place() - at);
        at = quick.place();
        if (question_) return;
        continue;
      }
      const auto* line_end =
          static_cast<const char*>(std::memchr(at, '\n', static_cast<std::size_t>(end - at)));
      const char* next = line_end ? line_end + 1 : end;
      careful({at, static_cast<std::size_t>(next - at)});
      if (question_) return;
      at = next;
      quick.seek(at);
    }
  }

  void careful(std::string_view text) {
    scanner_->feed(text, [this](const base::Row& row) { take(row); });
    if (scanner_->waiting() > longest_line)
      throw InputError({"", scanner_->lines() + 1, 0},
                       scanner_->inside_quotes() ? "a quote that is opened and not closed"
                                                 : "a line longer than a megabyte",
                       "one row of readings a line",
                       "close the quote or mend the line in a copy of the log");
  }

  void take_numbers(const QuickSlots& values) {
    rows_.time.push_back(values[0]);
    rows_.voltage.push_back(values[1]);
    rows_.current.push_back(values[2]);
    if (roles_.temperature) rows_.temperature.push_back(values[3]);
    if (roles_.capacity) rows_.counter.push_back(counter_.add(values[4]));
    end_row(scanner_->lines());
  }

  void end_row(std::size_t line) {
    rows_.line.push_back(static_cast<std::uint32_t>(
        std::min<std::size_t>(line, std::numeric_limits<std::uint32_t>::max())));
    ++rows_seen_;
    if (rows_.size() >= (digested_ ? batch_rows : first_batch_rows)) digest();
  }

  void digest() {
    if (question_) return;
    digested_ = true;
    if (auto question = settler_->take(rows_)) question_ = std::move(*question);
  }

  /// Text where a number must stand is more than dirt: it may mean that the file is misread.
  void refuse_or_leave_out(const base::Row& row, std::size_t column, std::string found,
                           std::string expected) {
    if (!options_.leave_out_bad_rows)
      throw InputError({"", row.line, column}, std::move(found), std::move(expected),
                       "mend the row in a copy of the log, or leave such rows out and have them "
                       "counted: --leave-out-bad-rows");
    settler_->left_out().add(found, row.line);
  }

  void take(const base::Row& row) {
    if (question_ || row.line < layout_.first_data_line || row.text.empty()) return;
    if (row.text.front() == '#' || base::trimmed(row.text).empty()) return;
    if (row.fields.size() <= needed_ || (!row.ended && cut_short(row))) {
      if (!row.ended) {
        refuse_or_leave_out(
            row, 0, fmt::format("the log ends in the middle of a row: '{}'", shown(row.text)),
            "a whole last row");
      } else if (words_only(row)) {
        ++passed_over_;
        if (passed_over_line_ == 0) passed_over_line_ = row.line;
      } else {
        settler_->left_out().add_fault(
            row.fields.size() == 1 ? "1 field" : fmt::format("{} fields", row.fields.size()),
            row.line, 0, fmt::format("{} fields as in the header", layout_.headers.size()),
            fmt::format("{} field{} in '{}'", row.fields.size(), row.fields.size() == 1 ? "" : "s",
                        shown(row.text)));
      }
      return;
    }
    if (roles_.channel && other_channel(row)) return;
    const auto voltage = value_at(row, roles_.voltage, "voltage");
    if (voltage.skip) return;
    const auto current = value_at(row, roles_.current, "current");
    if (current.skip) return;
    double amps = current.value;
    if (roles_.charge_current) {
      const auto charge = value_at(row, *roles_.charge_current, "charge current");
      if (charge.skip) return;
      // The direction that rests may be left empty.
      const auto or_zero = [](double x) { return std::isnan(x) ? 0.0 : std::abs(x); };
      amps = or_zero(amps) - or_zero(charge.value) * roles_.charge_current->field.scale /
                                 roles_.current.field.scale;
    }
    if (std::isnan(voltage.value) || std::isnan(amps)) {
      const bool no_volts = std::isnan(voltage.value);
      const std::size_t column = no_volts ? roles_.voltage.index : roles_.current.index;
      return settler_->left_out().add_fault(
          fmt::format("'{}' as {}", shown(row.fields[column]), no_volts ? "voltage" : "current"),
          row.line, column + 1, "a number");
    }
    other_time_ = nan;
    const auto time = time_of(row);
    if (!time && words_only(row))  // a sum below the rows; more of them are no sums
      return settler_->left_out().add_fault(
          fmt::format("'{}' as time", shown(row.fields[roles_.time.index])), row.line,
          roles_.time.index + 1, "a time like that of the rows before");
    if (!time) {
      const std::string found = fmt::format("'{}' as time", shown(row.fields[roles_.time.index]));
      if (no_value(row.fields[roles_.time.index]))
        return settler_->left_out().add_fault(found, row.line, roles_.time.index + 1,
                                              "a time like that of the rows before");
      return refuse_or_leave_out(row, roles_.time.index + 1, found,
                                 "a time like that of the rows before");
    }
    rows_.time.push_back(*time);
    if (order_open_) rows_.other_time.push_back(other_time_);
    rows_.voltage.push_back(voltage.value);
    rows_.current.push_back(amps);
    const auto optional_value = [&](const std::optional<Roles::Role>& role) {
      if (!role || role->index >= row.fields.size()) return nan;
      return parse_reading(row.fields[role->index], layout_.marks).value_or(nan);
    };
    if (roles_.temperature) rows_.temperature.push_back(optional_value(roles_.temperature));
    if (roles_.capacity) {
      double moved = counter_.add(optional_value(roles_.capacity));
      if (roles_.charge_capacity)
        moved += charge_counter_.add(optional_value(roles_.charge_capacity));
      rows_.counter.push_back(moved);
    }
    if (roles_.state) {
      const std::string_view word =
          roles_.state->index < row.fields.size() ? row.fields[roles_.state->index] : "";
      if (word != last_state_) last_state_ = word, last_flow_ = flow_of(word);
      rows_.flow.push_back(last_flow_);
    }
    last_decimals_ = row.fields.back().size();
    end_row(row.line);
  }

  struct Value {
    double value = nan;
    bool skip = false;
  };
  /// The number in a needed field; NaN where the file says that there is none.
  Value value_at(const base::Row& row, const Roles::Role& role, std::string_view what) {
    const std::string_view field = row.fields[role.index];
    if (const auto value = parse_reading(field, layout_.marks)) {
      // A unit beside the number counts for this number.
      if (!field.empty() && static_cast<unsigned char>(field.back()) > '9')
        if (const auto unit = read_unit(unit_behind(field, layout_.marks));
            unit && unit->meaning == role.field.meaning)
          return {*value * unit->scale / role.field.scale, false};
      return {*value, false};
    }
    if (no_value(field)) return {};
    if (header_again(row)) return {nan, true};
    if (words_only(row)) {
      ++passed_over_;
      if (passed_over_line_ == 0) passed_over_line_ = row.line;
      return {nan, true};
    }
    refuse_or_leave_out(row, role.index + 1, fmt::format("'{}' as {}", shown(field), what),
                        "a number");
    return {nan, true};
  }

  /// The last line has no end: is its last number shorter than that of the row before?
  [[nodiscard]] bool cut_short(const base::Row& row) const {
    if (row.fields.size() < layout_.headers.size()) return true;
    if (last_decimals_ > 0) return rows_seen_ > 0 && row.fields.back().size() + 1 < last_decimals_;
    return last_width_ > 0 && row.text.size() + 3 < last_width_;
  }

  /// A line of words between rows, or a sum below them: where a row has its time stand words.
  [[nodiscard]] bool words_only(const base::Row& row) const {
    const std::size_t column = std::min(roles_.time.index, row.fields.size() - 1);
    const std::string_view field = base::trimmed(row.fields[column]);
    if (parse_reading(field, layout_.marks) || parse_clock(field, true) ||
        parse_date_and_clock(field) || parse_date(field))
      return false;
    const bool digits = field.find_first_of("0123456789") != std::string_view::npos;
    if (!digits) return !no_value(field) || row.fields.size() <= needed_;
    return row.fields.size() <= needed_;
  }

  /// Rows of other cells: passed over where a channel was named, else a question.
  bool other_channel(const base::Row& row) {
    if (roles_.channel->index >= row.fields.size()) return false;
    const std::string_view value = base::trimmed(row.fields[roles_.channel->index]);
    if (!options_.channel.empty()) return value != options_.channel;
    if (first_channel_.empty()) first_channel_ = value;
    if (value == first_channel_ || value.empty() || header_again(row)) return false;
    question_ = Question{fmt::format("rows of several cells: '{}' is {}, then {}",
                                     base::to_utf8(layout_.headers[roles_.channel->index]),
                                     shown(first_channel_), shown(value)),
                         {fmt::format("the cell of {}", shown(first_channel_)),
                          fmt::format("the cell of {}", shown(value))},
                         fmt::format("--channel {}", shown(first_channel_))};
    return true;
  }

  bool header_again(const base::Row& row) {
    std::string text;
    for (const std::string_view f : row.fields) text += std::string(base::trimmed(f)) + '\x1f';
    bool units = !layout_.units_row.empty();
    for (std::size_t k = 0; units && k < row.fields.size(); ++k)
      units = k < layout_.units_row.size() && base::trimmed(row.fields[k]) == layout_.units_row[k];
    if (text != header_text_ && !units) return false;
    headers_again_ += text == header_text_;
    return true;
  }

  void note_what_was_passed_over() {
    if (headers_again_ > 0)
      settler_->note(findings::Id::header_again,
                     fmt::format("The header stands {} more time{} in the log; passed over.",
                                 headers_again_, headers_again_ == 1 ? "" : "s"),
                     "");
    if (passed_over_ > 0)
      settler_->note(
          findings::Id::lines_of_words,
          fmt::format("{} line{} between or below the rows hold{} words, not readings; "
                      "passed over.",
                      passed_over_, passed_over_ == 1 ? "" : "s", passed_over_ == 1 ? "s" : ""),
          fmt::format("line {}", passed_over_line_));
  }

  std::optional<double> time_of(const base::Row& row) {
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
    const auto date = parse_date(row.fields[roles_.date->index]);
    const auto clock = parse_clock(field);
    if (!date || !clock) return std::nullopt;
    return day_seconds(*date, *clock);
  }

  /// Seconds day-first, and beside them month-first where both orders are possible.
  std::optional<double> day_seconds(const Date& date, double clock_s) {
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

  ReadOptions options_;
  base::Decoder decoder_;
  bool decoding_ = false, digested_ = false;
  std::string bytes_, head_;
  Layout layout_;
  Roles roles_;
  std::size_t needed_ = 0;
  TimeKind time_kind_ = TimeKind::number;
  std::optional<base::RowScanner> scanner_;
  std::optional<Settler> settler_;
  std::optional<Question> question_;
  bool quick_ = false, minutes_seconds_ = false, order_open_ = false;
  QuickPlan quick_plan_;
  RawRows rows_;
  CounterSum counter_, charge_counter_;
  double other_time_ = nan;
  std::size_t rows_seen_ = 0, headers_again_ = 0, passed_over_ = 0, passed_over_line_ = 0;
  std::size_t last_decimals_ = 0, last_width_ = 0;
  std::string header_text_, last_state_, first_channel_;
  Flow last_flow_ = Flow::unknown;
};

LogReader::LogReader(ReadOptions options) : impl_(std::make_unique<Impl>(std::move(options))) {}
LogReader::~LogReader() = default;
void LogReader::feed(std::string_view block) { impl_->feed(block); }
ReadResult LogReader::finish() { return impl_->finish(); }

ReadResult read_log(std::string_view bytes, const ReadOptions& options) {
  constexpr std::size_t block = 1 << 20;  // stays in the cache
  LogReader reader(options);
  for (std::size_t at = 0; at < bytes.size(); at += block) reader.feed(bytes.substr(at, block));
  return reader.finish();
}

}  // namespace logs
