// SPDX-License-Identifier: Apache-2.0
#include "logs/settle.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/statistics.hpp"

namespace logs {
namespace {

using base::InputError;
using findings::Severity;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t most_rows = std::size_t{1} << 19;  // kept in memory; more are condensed
constexpr double coarse_share = 0.3;  // rows that repeat a stamp: the stamps are coarse
constexpr double hour_s = 3600.0;
constexpr double hottest_bench_C = 60.0;
constexpr double edge_intervals = 3.0;  // longer ones between rest and flow are the rest's

std::string plural(std::size_t n) { return n == 1 ? "" : "s"; }

}  // namespace

Settler::Settler(const Layout& layout, Roles roles, const ReadOptions& options, TimeKind time_kind)
    : layout_(layout), roles_(std::move(roles)), options_(options), time_kind_(time_kind) {
  HeaderField& clock = roles_.time.field;
  if (time_kind_ == TimeKind::number) return;
  // A clock is hours, minutes and seconds, whatever unit its header names or a person gave.
  if (clock.unit != "mm:ss" && clock.unit != "h:mm") {
    clock.unit.clear();
    roles_.time.unit_known = false;
  }
  clock.scale = 1.0;
}

std::string Settler::header(const Roles::Role& role) const {
  const std::string text = base::to_utf8(layout_.headers[role.index]);
  return text.empty() ? fmt::format("#{}", role.index + 1) : text;
}

void Settler::note(findings::Id id, std::string what, std::string where, Severity severity,
                   std::string remedy) {
  log_.findings.push_back({.id = id,
                           .severity = severity,
                           .what = std::move(what),
                           .where = std::move(where),
                           .remedy = std::move(remedy)});
}

std::optional<Question> Settler::decide_date_order(RawRows& rows) {
  if (rows.other_time.empty()) return std::nullopt;
  struct Order {
    std::size_t falls = 0, impossible = 0;
    double widest = 0.0, first = nan, last = nan;
  };
  const auto look = [](const std::vector<double>& times) {
    Order o;
    for (const double t : times) {
      if (std::isnan(t)) {
        ++o.impossible;
        continue;
      }
      if (std::isnan(o.first)) o.first = t;
      if (!std::isnan(o.last)) {
        o.falls += t < o.last;
        o.widest = std::max(o.widest, t - o.last);
      }
      o.last = t;
    }
    return o;
  };
  const Order dmy = look(rows.time), mdy = look(rows.other_time);
  // A clock set back or an hour of summer time falls once or twice; a wrong order falls at every
  // new month, or makes days that no month has.
  const bool dmy_could = dmy.impossible == 0, mdy_could = mdy.impossible == 0;
  if (!dmy_could && !mdy_could)
    throw InputError({"", rows.line.front(), roles_.time.index + 1},
                     "dates that are days of no month, day-first and month-first",
                     "dates written one way throughout",
                     "say how the dates are written: --dates dmy, mdy or ymd");
  month_first_ = !dmy_could || (mdy_could && mdy.falls < dmy.falls);
  if (!dmy_could || !mdy_could || mdy.falls != dmy.falls) return std::nullopt;
  const double length_dmy = dmy.last - dmy.first, length_mdy = mdy.last - mdy.first;
  if (std::abs(length_dmy - length_mdy) < 1.0) {
    note(findings::Id::date_order,
         "The dates can be read day-first or month-first; within this log both give the same "
         "measures.",
         "");
    return std::nullopt;
  }
  constexpr double half_day = 43200.0;
  if ((dmy.widest < half_day) == (mdy.widest < half_day))
    return Question{"the order of day and month",
                    {fmt::format("day first: the log lasts {:.1f} h", length_dmy / hour_s),
                     fmt::format("month first: the log lasts {:.1f} h", length_mdy / hour_s)},
                    "--dates dmy",
                    {"dates=dmy", "dates=mdy"}};
  month_first_ = mdy.widest < dmy.widest;
  note(findings::Id::date_order,
       fmt::format("Dates taken as {}-first: the other order would leave a hole of days.",
                   month_first_ ? "month" : "day"),
       "");
  return std::nullopt;
}

std::optional<Question> Settler::decide(RawRows& rows) {
  if (auto question = decide_date_order(rows)) return question;
  if (month_first_) rows.time.swap(rows.other_time);
  if (auto question = decide_units(rows)) return question;
  std::size_t equal = 0;
  std::vector<double> steps;
  for (std::size_t k = 1; k < rows.size(); ++k) {
    const double dt = rows.time[k] - rows.time[k - 1];
    equal += dt == 0.0;
    if (dt > 0.0) steps.push_back(dt);
  }
  coarse_ = double(equal) > coarse_share * double(rows.size());
  if (!steps.empty())
    clock_.usual_s =
        base::median(steps) * (time_kind_ == TimeKind::number ? roles_.time.field.scale : 1.0);
  look_at_state(rows);
  return std::nullopt;
}

std::optional<Question> Settler::take(RawRows& rows) {
  if (rows.size() == 0) return std::nullopt;
  if (!decided_) {
    if (auto question = decide(rows)) return question;
    decided_ = true;
  } else if (month_first_ && !rows.other_time.empty()) {
    rows.time.swap(rows.other_time);
  }
  rows.other_time.clear();
  if (roles_.time.field.scale != 1.0)  // a clock's is one, whatever its header says
    for (double& t : rows.time) t *= roles_.time.field.scale;
  settle_clock(rows);
  scale(rows);
  sign_from_state(rows);
  drop_dirt(rows);
  find_gaps(rows);
  append(rows);
  rows.clear();
  return std::nullopt;
}

void Settler::scale(RawRows& rows) {
  const double v = roles_.voltage.field.scale, i = roles_.current.field.scale;
  if (v != 1.0)
    for (double& x : rows.voltage) x *= v;
  if (i != 1.0)
    for (double& x : rows.current) x *= i;
  if (!roles_.temperature) return;
  const HeaderField& f = roles_.temperature->field;
  for (double& t : rows.temperature) {
    if (f.unit == "K")
      t -= 273.15;
    else if (f.unit == "F")
      t = (t - 32.0) / 1.8;
    else
      t *= f.scale;
    if (!(t > -60.0 && t < 150.0)) t = nan;
  }
  if (log_.rows() > 0 || rows.temperature.empty()) return;
  std::vector<double> known;
  for (const double t : rows.temperature)
    if (std::isfinite(t)) known.push_back(t);
  const bool nearly_none = known.size() * 2 < rows.temperature.size();
  if (!nearly_none && base::median(known) < hottest_bench_C) return;
  // No cell on a bench is this warm: the unit is another than the header says.
  temperature_doubtful_ = true;
  note(findings::Id::temperature_doubtful,
       nearly_none ? "The temperature column holds hardly any reading that a cell can have."
                   : fmt::format("As {} the temperature would be {:.0f} °C: it is left aside.",
                                 f.unit.empty() ? "°C" : f.unit, base::median(known)),
       header(*roles_.temperature), Severity::caution,
       "Say its unit: --columns 'temperature=HEADER[F]', [C] or [K].");
}

void Settler::drop_dirt(RawRows& rows) {
  const std::span<const Dirt> dirt = dirt_.find(rows.voltage, rows.current);
  if (std::all_of(dirt.begin(), dirt.end(), [](Dirt d) { return d == Dirt::none; })) return;
  std::vector<char> keep(rows.size(), 1);
  for (std::size_t k = 0; k < rows.size(); ++k) {
    if (dirt[k] == Dirt::none) continue;
    keep[k] = 0;
    if (dirt[k] == Dirt::impossible)
      left_out_.add_fault(
          fmt::format("a reading of {:g} V and {:g} A", rows.voltage[k], rows.current[k]),
          rows.line[k], roles_.voltage.index + 1, "a single cell's voltage, -1 to 6 V");
    else
      left_out_.add(reason(dirt[k]), rows.line[k]);
  }
  rows.retain(keep);
}

void Settler::find_gaps(const RawRows& rows) {
  const std::size_t n = rows.size();
  const bool first_batch = log_.rows() == 0;
  if (first_batch && n > 1) {
    std::vector<double> sorted;
    for (std::size_t k = 1; k < n; ++k) sorted.push_back(rows.time[k] - rows.time[k - 1]);
    const auto quantile = [&](std::size_t percent) {
      const auto at = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() * percent / 100);
      std::nth_element(sorted.begin(), at, sorted.end());
      return *at;
    };
    const double usual = quantile(50), wide = quantile(99), rather_wide = quantile(90);
    std::size_t unchanged = 0;
    for (std::size_t k = 1; k < n; ++k)
      unchanged += rows.voltage[k] == rows.voltage[k - 1] && rows.current[k] == rows.current[k - 1];
    // Written on change: no row repeats the one before, and the intervals are all over the place.
    log_.written_on_change = n > 20 && unchanged == 0 && wide > 10.0 * std::max(usual, 1e-9) &&
                             rather_wide > 5.0 * std::max(usual, 1e-9);
    log_.gap_s = std::max(10.0 * usual, 30.0);
    log_.edge_s = std::max(edge_intervals * usual, 5.0);
    if (log_.written_on_change)
      note(findings::Id::written_on_change,
           "Rows were written when a value changed: each value holds until the next row.", "");
  }
  if (log_.written_on_change) return;
  const auto look = [&](double t0, double i0, double t1, double i1, std::uint32_t line) {
    if (t1 - t0 <= log_.gap_s) return;
    const bool flows = std::abs(i0) > 1e-3 && std::abs(i1) > 1e-3;
    if (log_.gaps.size() < 4096)
      log_.gaps.push_back(
          {t0, t1, flows, 0.5 * (std::abs(i0) + std::abs(i1)) * (t1 - t0) / hour_s});
    std::size_t& first_line = flows ? gap_line_ : rest_gap_line_;
    if (first_line == 0) first_line = line;
  };
  if (!first_batch && n > 0)
    look(log_.time_s.back(), log_.current_A.back(), rows.time.front(), rows.current.front(),
         rows.line.front());
  for (std::size_t k = 1; k < n; ++k)
    look(rows.time[k - 1], rows.current[k - 1], rows.time[k], rows.current[k], rows.line[k - 1]);
}

/// What the tester's own counter moved across a gap is worth more than a straight line.
void Settler::fill_gaps_from_counter(const RawRows& rows) {
  if (rows.counter.empty() || !roles_.capacity || !roles_.capacity->unit_known) return;
  std::size_t k = 1;
  for (Gap& gap : log_.gaps) {
    if (gap.counted || gap.end_s < rows.time.front()) continue;
    while (k < rows.size() && rows.time[k] < gap.end_s) ++k;
    if (k >= rows.size() || rows.time[k - 1] != gap.start_s) continue;
    gap.counted = true;
    gap.counter_Ah = (rows.counter[k] - rows.counter[k - 1]) * roles_.capacity->field.scale;
  }
}

void Settler::append(const RawRows& rows) {
  if (rows.size() == 0) return;
  if (log_.rows() == 0) {
    log_.voltage_step_V = resolution(rows.voltage);
    log_.current_step_A = resolution(rows.current);
  }
  const std::size_t from = log_.rows();
  fill_gaps_from_counter(rows);
  const auto add = [](std::vector<double>& to, const std::vector<double>& what) {
    to.insert(to.end(), what.begin(), what.end());
  };
  add(log_.time_s, rows.time);
  add(log_.voltage_V, rows.voltage);
  add(log_.current_A, rows.current);
  if (!temperature_doubtful_) add(log_.temperature_C, rows.temperature);
  fill_shares(log_, from);
  used_ += rows.size();
  if (!rows.counter.empty()) {
    if (!counter_begun_) counter_first_ = rows.counter.front(), counter_begun_ = true;
    counter_last_ = rows.counter.back();
  }
  if (log_.rows() > most_rows) condense(log_, most_rows / 2, width_);
  if (log_.file_rows > 0) log_.file_rows = used_;
}

std::variant<Log, Question> Settler::finish() {
  if (!options_.leave_out_bad_rows) left_out_.refuse_if_many(used_);
  if (log_.rows() < 2)
    throw InputError({"", layout_.first_data_line, 0},
                     fmt::format("{} usable row{}", log_.rows(), plural(log_.rows())),
                     "at least two rows of readings",
                     "check that the log is whole and that its voltage is a single cell's");
  if (auto question = settle_sign()) return std::move(*question);
  look_for_stuck_sensors();
  if (!roles_.by_content.empty()) {
    std::string told;
    for (const std::string& one : roles_.by_content) told += (told.empty() ? "" : ", ") + one;
    note(findings::Id::columns_by_content,
         fmt::format("No header says it; told by what the columns hold and how they answer each "
                     "other: {}.",
                     told),
         "header", Severity::note, "Look whether it is so; --columns names them otherwise.");
  }
  report();
  list_columns();
  return std::move(log_);
}

}  // namespace logs
