// SPDX-License-Identifier: Apache-2.0
#include "bench/read_log.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "bench/sign.hpp"
#include "bench/sniff.hpp"

namespace bench {
namespace {

using base::Finding;
using base::InputError;
using base::Severity;

constexpr std::size_t sniff_bytes = 256 * 1024;
constexpr double nan = std::numeric_limits<double>::quiet_NaN();
// No single cell of this trade reads outside these, not even abused; meters' "no value" marks do.
constexpr double lowest_cell_V = -1.0, highest_cell_V = 6.0, largest_current_A = 5000.0;

enum class TimeKind { number, clock, stamp, date_and_clock };
enum class Flow : std::int8_t { unknown, rest, charge, discharge };

Flow flow_of(std::string_view text) {
  const std::string word = base::lower(text);
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

}  // namespace

// In three steps: the first block fixes the layout and the columns; every row is then turned into
// numbers as it comes; at the end time, sign and units are settled from all rows together.
class LogReader::Impl {
 public:
  explicit Impl(ReadOptions options) : options_(std::move(options)) {}

  void feed(std::string_view block) {
    if (question_) return;
    if (scanner_) {
      scan(block);
      return;
    }
    head_.append(block);
    if (head_.size() >= sniff_bytes && !wide_text()) open(false);
  }

  ReadResult finish() {
    if (!scanner_ && !question_) open(true);
    if (question_) return std::move(*question_);
    scanner_->finish([this](const base::Row& row) { take(row); });
    if (time_.empty())
      throw InputError({"", layout_.header_line, 0}, "a header and no rows of readings",
                       "rows of readings below the header",
                       "export the log again; the tester may not have finished writing it");
    return settle();
  }

 private:
  [[nodiscard]] bool wide_text() const {
    return decode(head_.substr(0, 512)).size() + 3 < std::min<std::size_t>(head_.size(), 512);
  }

  void open(bool complete) {
    head_ = decode(head_);
    layout_ = sniff(std::string_view(head_).substr(0, sniff_bytes),
                    complete && head_.size() <= sniff_bytes);
    auto chosen = choose_columns(layout_, options_.columns);
    if (auto* question = std::get_if<Question>(&chosen)) {
      question_ = std::move(*question);
      return;
    }
    roles_ = std::get<Roles>(chosen);
    const std::string& first = layout_.first_row.at(roles_.time.index);
    if (numeric(first, layout_.decimal_mark))
      time_kind_ = TimeKind::number;
    else if (roles_.date)
      time_kind_ = TimeKind::date_and_clock;
    else
      time_kind_ = parse_date_and_clock(first) ? TimeKind::stamp : TimeKind::clock;
    minutes_seconds_ =
        base::lower(layout_.headers[roles_.time.index]).find("mm:ss") != std::string::npos &&
        base::lower(layout_.headers[roles_.time.index]).find("h:mm") == std::string::npos;
    scale_doubtful_marks();
    if (question_) return;
    header_text_ = header_line_text();
    scanner_.emplace(layout_.dialect);
    std::string head = std::move(head_);
    head_.clear();
    scan(head);
  }

  /// "3,301" may be 3.301 or 3301: the voltage column tells, since a cell has about three volts.
  void scale_doubtful_marks() {
    if (!layout_.marks_doubtful) return;
    if (roles_.voltage.field.unit == "mV") {
      layout_.decimal_mark = '.';
      layout_.thousands_mark = ',';
    }
  }

  std::string header_line_text() const {
    std::string text;
    for (const std::string& h : layout_.headers) text += h + '\x1f';
    return text;
  }

  void scan(std::string_view block) {
    scanner_->feed(block, [this](const base::Row& row) { take(row); });
  }

  std::optional<double> number(std::string_view field) const {
    if (const auto value = base::parse_number(field, layout_.decimal_mark)) return value;
    field = base::trimmed(field);
    if (const auto value = base::parse_number(field, layout_.decimal_mark)) return value;
    if (layout_.thousands_mark != '\0' && numeric(field, layout_.decimal_mark)) {
      std::string plain;
      for (const char c : field)
        if (c != layout_.thousands_mark) plain += c;
      return base::parse_number(plain, layout_.decimal_mark);
    }
    if (const auto with_unit = base::parse_with_unit(field, layout_.decimal_mark);
        with_unit && !with_unit->unit.empty() && read_unit(to_utf8(with_unit->unit)))
      return with_unit->value;
    return std::nullopt;
  }

  /// Leaves a row out with its reason, or refuses the log at this row.
  void bad(const base::Row& row, std::size_t column, std::string found, std::string expected) {
    if (!options_.leave_out_bad_rows)
      throw InputError({"", row.line, column}, std::move(found), std::move(expected),
                       "mend the row in a copy of the log, or leave such rows out and have them "
                       "counted: --leave-out-bad-rows");
    log_.left_out.push_back({row.line, std::move(found)});
  }

  void take(const base::Row& row) {
    if (row.line < layout_.first_data_line || row.text.empty()) return;
    if (row.text.front() == '#' || base::trimmed(row.text).empty()) return;
    const std::size_t needed =
        std::max({roles_.time.index, roles_.voltage.index, roles_.current.index,
                  roles_.date ? roles_.date->index : 0});
    if (row.fields.size() <= needed || (!row.ended && cut_short(row))) {
      if (!row.ended)
        bad(row, 0, fmt::format("the log ends in the middle of a row: '{}'", shown(row.text)),
            "a whole last row");
      else
        bad(row, 0,
            fmt::format("{} field{} in '{}'", row.fields.size(), row.fields.size() == 1 ? "" : "s",
                        shown(row.text)),
            fmt::format("{} fields as in the header", layout_.headers.size()));
      return;
    }
    const auto voltage = number(row.fields[roles_.voltage.index]);
    if (!voltage && header_again(row)) return;
    const auto refuse_text = [&](const Roles::Role& role, std::string_view what) {
      bad(row, role.index + 1, fmt::format("'{}' as {}", shown(row.fields[role.index]), what),
          "a number");
    };
    if (!voltage) return refuse_text(roles_.voltage, "voltage");
    const auto current = number(row.fields[roles_.current.index]);
    if (!current) return refuse_text(roles_.current, "current");
    const double amps = *current * roles_.current.field.scale;
    if (std::abs(amps) > largest_current_A && roles_.current.unit_known)
      return bad(row, roles_.current.index + 1, fmt::format("a current of {:g} A", amps),
                 fmt::format("a current of at most {:g} A", largest_current_A));
    const auto time = time_of(row);
    if (!time)
      return bad(row, roles_.time.index + 1,
                 fmt::format("'{}' as time", shown(row.fields[roles_.time.index])),
                 "a time like that of the rows before");
    if (!append_time(row, *time)) return;
    voltage_.push_back(*voltage);
    current_.push_back(*current);
    line_.push_back(static_cast<std::uint32_t>(
        std::min<std::size_t>(row.line, std::numeric_limits<std::uint32_t>::max())));
    if (roles_.temperature) {
      const bool there = roles_.temperature->index < row.fields.size();
      log_.temperature_C.push_back(
          there ? number(row.fields[roles_.temperature->index]).value_or(nan) : nan);
    }
    if (roles_.state) {
      const std::string_view word =
          roles_.state->index < row.fields.size() ? row.fields[roles_.state->index] : "";
      if (word != last_state_) last_state_ = word, last_flow_ = flow_of(word);
      flow_.push_back(last_flow_);
    }
    last_decimals_ = row.fields.back().size();
  }

  static std::string shown(std::string_view text) {
    std::string copy = to_utf8(text.substr(0, 60));
    for (char& c : copy)
      if (static_cast<unsigned char>(c) < 0x20 || c == '\x7f') c = '?';
    return text.size() > 60 ? copy + "…" : copy;
  }

  /// The last line has no end: is its last number shorter than that of the row before?
  bool cut_short(const base::Row& row) const {
    return row.fields.size() < layout_.headers.size() ||
           (!voltage_.empty() && row.fields.back().size() + 1 < last_decimals_);
  }

  bool header_again(const base::Row& row) {
    std::string text;
    for (const std::string_view f : row.fields) text += std::string(base::trimmed(f)) + '\x1f';
    if (text != header_text_) return false;
    ++headers_again_;
    return true;
  }

  std::optional<double> time_of(const base::Row& row) {
    const std::string_view field = row.fields[roles_.time.index];
    switch (time_kind_) {
      case TimeKind::number: {
        const auto value = number(field);
        if (!value) return std::nullopt;
        return *value * roles_.time.field.scale;
      }
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

  /// Seconds in the order of day and month that holds, and beside them those of the other order.
  std::optional<double> day_seconds(const Date& date, double clock_s) {
    if (date.year_first || options_.dates != DateOrder::unknown) {
      const auto day = seconds_of(date, options_.dates);
      other_time_ = nan;
      if (!day) return std::nullopt;
      return *day + clock_s;
    }
    const auto dmy = seconds_of(date, DateOrder::dmy), mdy = seconds_of(date, DateOrder::mdy);
    if (!dmy && !mdy) return std::nullopt;
    dmy_possible_ = dmy_possible_ && dmy.has_value();
    mdy_possible_ = mdy_possible_ && mdy.has_value();
    other_time_ = mdy.value_or(nan) + clock_s;
    return dmy.value_or(mdy.value_or(0.0)) + clock_s;
  }

  /// Appends a row's time; false where the row was left out.
  bool append_time(const base::Row& row, double seconds) {
    if (!time_.empty()) {
      const double last_raw = raw_time_;
      if (roles_.time.field.meaning == Meaning::step_time && seconds < last_raw) {
        // A step's own time starts again: go on one usual interval after the row before.
        offset_ = time_.back() + usual_interval_ - seconds;
        ++restarts_;
      } else if (time_kind_ == TimeKind::clock && seconds < last_raw && last_raw > 20.0 * 3600.0 &&
                 last_raw < 86400.0 && seconds < 4.0 * 3600.0) {
        offset_ += 86400.0;  // past midnight
      } else if (seconds < last_raw && !order_doubtful()) {
        bad(row, roles_.time.index + 1,
            fmt::format("a time that goes back by {:g} s", last_raw - seconds),
            "times that rise from row to row");
        return false;
      }
      if (seconds == last_raw && row.text == last_text_) {
        ++written_twice_;
        return false;
      }
      if (seconds > last_raw)
        usual_interval_ =
            usual_interval_ == 0.0
                ? seconds - last_raw
                : usual_interval_ + 0.05 * (std::min(seconds - last_raw, 4.0 * usual_interval_) -
                                            usual_interval_);
    }
    raw_time_ = seconds;
    time_.push_back(seconds + offset_);
    if (order_doubtful()) other_.push_back(other_time_);
    last_text_.assign(row.text);
    return true;
  }

  [[nodiscard]] bool order_doubtful() const {
    return (time_kind_ == TimeKind::stamp || time_kind_ == TimeKind::date_and_clock) &&
           !std::isnan(other_time_);
  }

  static bool rises(const std::vector<double>& times, double& widest) {
    widest = 0.0;
    for (std::size_t i = 1; i < times.size(); ++i) {
      if (!(times[i] >= times[i - 1])) return false;
      widest = std::max(widest, times[i] - times[i - 1]);
    }
    return true;
  }

  void settle_date_order() {
    if (other_.size() != time_.size()) return;
    double gap_dmy = 0.0, gap_mdy = 0.0;
    const bool dmy = dmy_possible_ && rises(time_, gap_dmy),
               mdy = mdy_possible_ && rises(other_, gap_mdy);
    if (!dmy && !mdy)
      throw InputError({"", line_.front(), roles_.time.index + 1},
                       "dates that go back, day-first and month-first",
                       "times that rise from row to row",
                       "say how the dates are written: --dates dmy, mdy or ymd");
    const bool same =
        dmy && mdy &&
        std::abs((time_.back() - time_.front()) - (other_.back() - other_.front())) < 1.0;
    if (same) {
      note("date-order",
           "The dates can be read day-first or month-first; within this log both give the same "
           "measures.",
           "");
    } else if (dmy && mdy) {
      constexpr double half_day = 43200.0;
      if ((gap_dmy < half_day) == (gap_mdy < half_day)) {
        question_ = Question{"the order of day and month",
                             {fmt::format("day first: the log lasts {:.1f} h",
                                          (time_.back() - time_.front()) / 3600.0),
                              fmt::format("month first: the log lasts {:.1f} h",
                                          (other_.back() - other_.front()) / 3600.0)},
                             "--dates dmy"};
        return;
      }
      if (gap_mdy < gap_dmy) time_.swap(other_);
      note("date-order",
           fmt::format("Dates taken as {}-first: the other order would leave a hole of days.",
                       gap_mdy < gap_dmy ? "month" : "day"),
           "");
    } else if (mdy) {
      time_.swap(other_);
    }
    other_.clear();
  }

  void note(std::string id, std::string what, std::string where, Severity severity = Severity::note,
            std::string remedy = "") {
    log_.findings.push_back({.id = std::move(id),
                             .severity = severity,
                             .what = std::move(what),
                             .where = std::move(where),
                             .measured = "",
                             .limit = "",
                             .why = "",
                             .remedy = std::move(remedy),
                             .basis = ""});
  }

  /// Units that no header names: only what a cell can do is left standing; two readings are a
  /// question.
  void settle_units() {
    auto& v = roles_.voltage;
    auto& i = roles_.current;
    auto& t = roles_.time;
    std::vector<double> sorted = voltage_;
    std::nth_element(sorted.begin(),
                     sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2), sorted.end());
    const double middle = sorted[sorted.size() / 2] * (v.unit_known ? v.field.scale : 1.0);
    if (!v.unit_known) {
      v.field.unit = middle > 500.0 ? "mV" : "V";
      v.field.scale = middle > 500.0 ? 1e-3 : 1.0;
    } else if (middle > 500.0 && v.field.unit == "V") {
      question_ = Question{
          fmt::format("'{}' says V and holds {:g}", to_utf8(layout_.headers[v.index]), middle),
          {"the column is in mV", "the column is in V (no cell has such a voltage)"},
          fmt::format("--columns 'voltage={}[mV]'", to_utf8(layout_.headers[v.index]))};
      return;
    }
    if (time_kind_ == TimeKind::number && !t.unit_known) {
      if (time_.front() > 1e11)
        t.field.unit = "ms", t.field.scale = 1e-3, t.unit_known = true;  // since 1970
      else if (time_.front() > 1e8)
        t.field.unit = "s", t.field.scale = 1.0, t.unit_known = true;
      for (double& x : time_) x *= t.field.scale;
    }
    struct Reading {
      double time_scale;
      std::string_view time_unit;
      double current_scale;
      std::string_view current_unit;
    };
    std::vector<Reading> possible;
    const std::vector<std::pair<double, std::string_view>> times =
        t.unit_known || time_kind_ != TimeKind::number
            ? std::vector<std::pair<double, std::string_view>>{{1.0, t.field.unit}}
            : std::vector<std::pair<double, std::string_view>>{
                  {1.0, "s"}, {60.0, "min"}, {3600.0, "h"}, {1e-3, "ms"}};
    const std::vector<std::pair<double, std::string_view>> currents =
        i.unit_known
            ? std::vector<std::pair<double, std::string_view>>{{i.field.scale, i.field.unit}}
            : std::vector<std::pair<double, std::string_view>>{{1.0, "A"}, {1e-3, "mA"}};
    if (times.size() == 1 && currents.size() == 1) return;
    for (const auto& [ts, tu] : times)
      for (const auto& [cs, cu] : currents)
        if (a_cell_could(ts, cs)) possible.push_back({ts, tu, cs, cu});
    if (possible.size() == 1) {
      for (double& x : time_) x *= possible.front().time_scale;
      if (!t.unit_known && time_kind_ == TimeKind::number)
        t.field.unit = possible.front().time_unit, t.field.scale *= possible.front().time_scale;
      i.field.unit = possible.front().current_unit;
      i.field.scale = possible.front().current_scale;
      note("unit-inferred",
           fmt::format("The header names no unit; as {} and {} the readings are those of a cell, "
                       "as anything else they are not.",
                       t.field.unit, i.field.unit),
           "header");
      return;
    }
    if (possible.empty())  // none fits a cell well: list them all rather than none
      for (const auto& [ts, tu] : times)
        for (const auto& [cs, cu] : currents) possible.push_back({ts, tu, cs, cu});
    question_ = Question{"units that the header does not name", {}, ""};
    for (const Reading& r : possible)
      question_->readings.push_back(
          fmt::format("time in {}, current in {}", r.time_unit, r.current_unit));
    question_->option =
        fmt::format("--columns 'time={}[s],current={}[A]'", to_utf8(layout_.headers[t.index]),
                    to_utf8(layout_.headers[i.index]));
  }

  /// Capacity, resistance and their product within what cells of 0.5 to 2000 Ah show. Rough on
  /// purpose.
  [[nodiscard]] bool a_cell_could(double time_scale, double current_scale) const {
    double charge_As = 0.0, largest_run_As = 0.0, jump_V = 0.0, jump_A = 0.0, top_A = 0.0;
    for (const double x : current_) top_A = std::max(top_A, std::abs(x));
    const double v_scale = roles_.voltage.field.scale;
    double lowest = 1e9, highest = -1e9;
    for (std::size_t k = 1; k < time_.size(); ++k) {
      if (current_[k] * current_[k - 1] < 0.0) charge_As = 0.0;
      charge_As +=
          0.5 * (std::abs(current_[k]) + std::abs(current_[k - 1])) * (time_[k] - time_[k - 1]);
      largest_run_As = std::max(largest_run_As, charge_As);
      if (std::abs(current_[k] - current_[k - 1]) > std::abs(jump_A))
        jump_A = current_[k] - current_[k - 1], jump_V = (voltage_[k] - voltage_[k - 1]) * v_scale;
      lowest = std::min(lowest, voltage_[k] * v_scale);
      highest = std::max(highest, voltage_[k] * v_scale);
    }
    const double capacity_Ah = largest_run_As * time_scale * current_scale / 3600.0;
    if (capacity_Ah > 2000.0) return false;
    const bool full_swing = lowest < 3.0 && highest > 3.3;
    if (full_swing && capacity_Ah < 0.5) return false;
    if (std::abs(jump_A) > 0.2 * top_A) {
      const double resistance_Ohm = std::abs(jump_V / (jump_A * current_scale));
      if (resistance_Ohm < 20e-6 || resistance_Ohm > 0.2) return false;
      const double product_mOhm_Ah =
          resistance_Ohm * 1e3 *
          capacity_Ah;  // 10…400 for LFP cells of any size; two-wire leads add to it
      if (full_swing && (product_mOhm_Ah < 8.0 || product_mOhm_Ah > 4000.0)) return false;
    }
    return true;
  }

  void settle_sign() {
    const bool by_state = !flow_.empty() && std::any_of(flow_.begin(), flow_.end(), [](Flow f) {
      return f == Flow::discharge || f == Flow::charge;
    });
    const bool any_negative =
        std::any_of(current_.begin(), current_.end(), [](double x) { return x < 0.0; });
    if (options_.sign != SignRule::automatic) {
      if (options_.sign == SignRule::charge_positive) flip();
      return;
    }
    if (by_state && !any_negative) {
      for (std::size_t k = 0; k < current_.size(); ++k)
        if (flow_[k] == Flow::charge) current_[k] = -current_[k];
      note("sign-from-state",
           fmt::format("The current has no sign; charge and discharge are taken from '{}'.",
                       to_utf8(layout_.headers[roles_.state->index])),
           "header");
      return;
    }
    switch (find_sign(current_, voltage_)) {
      case SignEvidence::charge_positive:
        flip();
        return;
      case SignEvidence::discharge_positive:
        return;
      case SignEvidence::unsigned_values:
        sign_stretches(current_, voltage_);
        note("sign-from-voltage",
             "The current has no sign; charge and discharge are told apart by how the voltage "
             "answers.",
             "");
        return;
      case SignEvidence::none:
        break;
    }
    double moved = 0.0;
    for (const double x : current_) moved = std::max(moved, std::abs(x));
    if (moved == 0.0) return;
    question_ =
        Question{"which way the current flows",
                 {"positive current discharges the cell", "positive current charges the cell"},
                 "--sign discharge-positive"};
  }

  void flip() {
    for (double& x : current_) x = -x;
  }

  /// Applies the scales, and drops readings that no cell can give (a meter's mark for "no value").
  void scale_and_filter() {
    const double v = roles_.voltage.field.scale, i = roles_.current.field.scale;
    std::size_t kept = 0;
    for (std::size_t k = 0; k < time_.size(); ++k) {
      const double volts = voltage_[k] * v, amps = current_[k] * i;
      const bool off =
          volts < lowest_cell_V || volts > highest_cell_V || std::abs(amps) > largest_current_A;
      if (off) {
        const base::Row row{line_[k], "", {}, true};
        bad(row, roles_.voltage.index + 1,
            fmt::format("a reading of {:g} V and {:g} A", volts, amps),
            fmt::format("a single cell's voltage, {:g} to {:g} V", lowest_cell_V, highest_cell_V));
        continue;
      }
      time_[kept] = time_[k];
      voltage_[kept] = volts;
      current_[kept] = amps;
      line_[kept] = line_[k];
      if (!log_.temperature_C.empty()) log_.temperature_C[kept] = log_.temperature_C[k];
      if (!flow_.empty()) flow_[kept] = flow_[k];
      ++kept;
    }
    for (std::vector<double>* column : {&time_, &voltage_, &current_}) column->resize(kept);
    if (!log_.temperature_C.empty()) log_.temperature_C.resize(kept);
    if (!flow_.empty()) flow_.resize(kept);
    if (kept < 2)
      throw InputError({"", layout_.first_data_line, 0},
                       fmt::format("{} usable row{}", kept, kept == 1 ? "" : "s"),
                       "at least two rows of readings",
                       "check that the log is whole and that its voltage is a single cell's");
  }

  void settle_temperature() {
    if (!roles_.temperature) return;
    const HeaderField& f = roles_.temperature->field;
    for (double& t : log_.temperature_C) {
      if (f.unit == "K")
        t -= 273.15;
      else if (f.unit == "F")
        t = (t - 32.0) / 1.8;
      else
        t *= f.scale;
      if (!(t > -60.0 && t < 150.0)) t = nan;
    }
  }

  void find_gaps() {
    std::vector<double> steps;
    for (std::size_t k = 1; k < time_.size(); ++k) steps.push_back(time_[k] - time_[k - 1]);
    std::vector<double> sorted = steps;
    std::sort(sorted.begin(), sorted.end());
    const double usual = sorted[sorted.size() / 2], wide = sorted[sorted.size() * 99 / 100];
    std::size_t unchanged = 0;
    for (std::size_t k = 1; k < time_.size(); ++k)
      unchanged += voltage_[k] == voltage_[k - 1] && current_[k] == current_[k - 1];
    // Written on change: no row repeats the one before, and the intervals are all over the place.
    log_.written_on_change = time_.size() > 20 && unchanged == 0 &&
                             wide > 20.0 * std::max(usual, 1e-9) &&
                             sorted[sorted.size() * 9 / 10] > 5.0 * std::max(usual, 1e-9);
    if (log_.written_on_change) {
      note("written-on-change",
           "Rows were written when a value changed: each value holds until the next row.", "");
      return;
    }
    const double limit = std::max(10.0 * usual, 30.0);
    struct Gaps {
      std::size_t count = 0, first = 0;
      double total_s = 0.0, widest_s = 0.0;
    } flowing, resting;
    for (std::size_t k = 0; k < steps.size(); ++k) {
      if (steps[k] <= limit) continue;
      const bool flows = std::abs(current_[k]) > 1e-3 || std::abs(current_[k + 1]) > 1e-3;
      Gaps& gaps = flows ? flowing : resting;
      if (gaps.count++ == 0) gaps.first = k;
      gaps.total_s += steps[k];
      gaps.widest_s = std::max(gaps.widest_s, steps[k]);
    }
    const auto report = [&](const Gaps& gaps, std::string_view when, std::string_view across,
                            Severity severity, std::string remedy) {
      note(severity == Severity::caution ? "gap" : "gap-at-rest",
           fmt::format(
               "{} gap{} {}, {:.1f} s in all ({:.1f} % of the log), the longest {:.1f} s; {}.",
               gaps.count, gaps.count == 1 ? "" : "s", when, gaps.total_s,
               100.0 * gaps.total_s / std::max(time_.back() - time_.front(), 1e-9), gaps.widest_s,
               across),
           fmt::format("line {}", line_[gaps.first]), severity, std::move(remedy));
    };
    if (flowing.count > 0)
      report(flowing, "while a current flowed", "the charge across is a straight line",
             Severity::caution,
             "Trust the capacity only as far as the current is known to have been steady across "
             "the gap; else test again.");
    if (resting.count > 0 && resting.count <= 3)  // more is a tester that writes rest less often
      report(resting, "between rows at rest", "whatever flowed meanwhile is not counted",
             Severity::note, "Make sure that nothing flowed meanwhile.");
  }

  ReadResult settle() {
    settle_date_order();
    if (!question_) settle_units();
    if (question_) return std::move(*question_);
    scale_and_filter();
    settle_sign();
    if (question_) return std::move(*question_);
    settle_temperature();
    find_gaps();
    if (headers_again_ > 0)
      note("header-again",
           fmt::format("The header stands {} more time{} in the log; passed over.", headers_again_,
                       headers_again_ == 1 ? "" : "s"),
           "");
    if (written_twice_ > 0)
      note("row-twice",
           fmt::format("{} row{} written twice; counted once.", written_twice_,
                       written_twice_ == 1 ? "" : "s"),
           "");
    if (restarts_ > 0)
      note("time-restarts",
           fmt::format("The time starts again {} time{}; joined with one usual interval between.",
                       restarts_, restarts_ == 1 ? "" : "s"),
           "");
    report_left_out();
    const double start = time_.front();
    for (double& t : time_) t -= start;
    list_columns();
    log_.time_s = std::move(time_);
    log_.voltage_V = std::move(voltage_);
    log_.current_A = std::move(current_);
    return std::move(log_);
  }

  void report_left_out() {
    if (log_.left_out.empty()) return;
    std::string lines;
    for (std::size_t k = 0; k < std::min<std::size_t>(log_.left_out.size(), 12); ++k)
      lines += fmt::format("{}{}", k == 0 ? "" : ", ", log_.left_out[k].line);
    if (log_.left_out.size() > 12) lines += ", …";
    note("rows-left-out",
         fmt::format(
             "{} row{} left out ({:.2f} % of all); the first: {}.", log_.left_out.size(),
             log_.left_out.size() == 1 ? "" : "s",
             100.0 * double(log_.left_out.size()) / double(log_.left_out.size() + time_.size()),
             log_.left_out.front().reason),
         "lines " + lines, Severity::caution, "Look at these lines in the log.");
  }

  void list_columns() {
    const auto add = [&](const Roles::Role& role, std::string_view meaning) {
      log_.columns.push_back({std::string(meaning), to_utf8(layout_.headers[role.index]),
                              role.field.unit, role.field.scale});
    };
    if (roles_.date)
      log_.columns.push_back({"date", to_utf8(layout_.headers[roles_.date->index]), "", 1.0});
    add(roles_.time, "time");
    add(roles_.voltage, "voltage");
    add(roles_.current, "current");
    if (roles_.capacity) add(*roles_.capacity, "capacity");
    if (roles_.energy) add(*roles_.energy, "energy");
    if (roles_.temperature) add(*roles_.temperature, "temperature");
    if (roles_.state) add(*roles_.state, "state");
  }

  ReadOptions options_;
  std::string head_;
  Layout layout_;
  Roles roles_;
  std::optional<base::RowScanner> scanner_;
  std::optional<Question> question_;
  Log log_;
  std::vector<double> time_, other_, voltage_, current_;
  std::vector<std::uint32_t> line_;
  std::vector<Flow> flow_;
  TimeKind time_kind_ = TimeKind::number;
  bool minutes_seconds_ = false, dmy_possible_ = true, mdy_possible_ = true;
  double offset_ = 0.0, raw_time_ = 0.0, usual_interval_ = 0.0, other_time_ = nan;
  std::size_t headers_again_ = 0, written_twice_ = 0, restarts_ = 0, last_decimals_ = 0;
  std::string header_text_, last_text_, last_state_;
  Flow last_flow_ = Flow::unknown;
};

LogReader::LogReader(ReadOptions options) : impl_(std::make_unique<Impl>(std::move(options))) {}
LogReader::~LogReader() = default;
void LogReader::feed(std::string_view block) { impl_->feed(block); }
ReadResult LogReader::finish() { return impl_->finish(); }

ReadResult read_log(std::string_view bytes, const ReadOptions& options) {
  LogReader reader(options);
  reader.feed(bytes);
  return reader.finish();
}

}  // namespace bench
