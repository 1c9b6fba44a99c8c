// SPDX-License-Identifier: Apache-2.0
#include "logs/settle.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/statistics.hpp"
#include "logs/sign.hpp"

namespace logs {
namespace {

using base::InputError;
using findings::Severity;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t most_rows = std::size_t{1} << 19;  // kept in memory; more are condensed
constexpr std::size_t lines_kept = 12;
constexpr double fault_share = 0.01;  // more faults than this and the log is refused
constexpr double coarse_share = 0.3;  // rows that repeat a stamp: the stamps are coarse
constexpr double day_s = 86400.0, hour_s = 3600.0;
constexpr double hottest_bench_C = 60.0;
constexpr double edge_intervals = 3.0;  // longer ones between rest and flow are the rest's

/// The day on which clocks go forward in Europe (last Sunday of March) or North America (second).
bool clocks_go_forward(double seconds_since_1970) {
  const auto day = static_cast<long>(std::floor(seconds_since_1970 / day_s));
  const int year = 1970 + static_cast<int>(double(day) / 365.2425);
  const auto march_31 = base::days_since_1970(year, 3, 31),
             march_1 = base::days_since_1970(year, 3, 1);
  if (!march_31 || !march_1) return false;
  const auto weekday = [](long d) { return (d + 4) % 7; };  // 0: Sunday; 1970-01-01 was a Thursday
  const long last_sunday = *march_31 - weekday(*march_31);
  const long second_sunday = *march_1 + (7 - weekday(*march_1)) % 7 + 7;
  return day == last_sunday || day == second_sunday;
}

bool has_zone(std::string_view stamp) {
  if (stamp.empty()) return false;
  if (stamp.back() == 'Z') return true;
  return stamp.size() > 6 && stamp[stamp.size() - 3] == ':' &&
         (stamp[stamp.size() - 6] == '+' || stamp[stamp.size() - 6] == '-');
}

std::string plural(std::size_t n) { return n == 1 ? "" : "s"; }

}  // namespace

void LeftOutList::add(std::string_view reason, std::size_t line) {
  auto entry = std::find_if(list_.begin(), list_.end(),
                            [&](const LeftOut& l) { return l.reason == reason; });
  if (entry == list_.end()) {
    list_.push_back({std::string(reason), 0, {}});
    entry = list_.end() - 1;
  }
  ++entry->count;
  if (entry->lines.size() < lines_kept) entry->lines.push_back(line);
}

void LeftOutList::add_fault(std::string_view reason, std::size_t line, std::size_t column,
                            std::string_view expected, std::string_view found) {
  add(reason, line);
  doubt(found.empty() ? reason : found, line, column, expected);
}

void LeftOutList::doubt(std::string_view found, std::size_t line, std::size_t column,
                        std::string_view expected) {
  if (faults_++ == 0) line_ = line, column_ = column, found_ = found, expected_ = expected;
}

void LeftOutList::refuse_if_many(std::size_t rows_used) const {
  if (double(faults_) <= fault_share * double(rows_used + faults_)) return;
  throw InputError({"", line_, column_},
                   faults_ == 1 ? found_
                                : fmt::format("{}, the first of {} such rows in {}", found_,
                                              faults_, rows_used + faults_),
                   expected_,
                   "mend the rows in a copy of the log, or leave such rows out and have them "
                   "counted: --leave-out-bad-rows");
}

Settler::Settler(const Layout& layout, Roles roles, const ReadOptions& options, TimeKind time_kind)
    : layout_(layout), roles_(std::move(roles)), options_(options), time_kind_(time_kind) {}

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
  const auto says = [](Flow f) { return f == Flow::charge || f == Flow::discharge; };
  by_state_ =
      std::any_of(rows.flow.begin(), rows.flow.end(), says) &&
      std::none_of(rows.current.begin(), rows.current.end(), [](double x) { return x < 0.0; });
  sign_known_ = by_state_ || roles_.charge_current.has_value();
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
  if ((time_kind_ == TimeKind::number || time_kind_ == TimeKind::clock) &&
      roles_.time.field.scale != 1.0)
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

/// Rows that share a stamp are spread evenly until the next: the tester writes faster than its
/// clock's last digit.
void Settler::spread_coarse_stamps(RawRows& rows, std::size_t from) {
  double stamp_s = 0.0;  // between one stamp and the next
  for (std::size_t a = from; a < rows.size();) {
    std::size_t b = a + 1;
    while (b < rows.size() && rows.time[b] == rows.time[a]) ++b;
    const double here = rows.time[a];
    const double until = b < rows.size() ? rows.time[b] - here : stamp_s;
    if (b < rows.size() && until > 0.0 && (stamp_s == 0.0 || until < 3.0 * stamp_s))
      stamp_s = stamp_s == 0.0 ? until : 0.5 * (stamp_s + until);
    const double spread = std::clamp(until, 0.0, stamp_s);
    for (std::size_t k = a; k < b; ++k)
      rows.time[k] = here + spread * double(k - a) / double(b - a);
    a = b;
  }
}

/// A step's own clock starts again: its first stamp tells how far into the step it is; where that
/// is zero, one usual interval has passed since the row before.
void Settler::join_at_restart(double raw, double last_final) {
  const double since_s = raw > 0.0 && raw <= clock_.usual_s ? raw : clock_.usual_s;
  clock_.offset = last_final + since_s - raw;
}

/// True where the rows from `k` on stand word for word further up: a block was written twice. As
/// many rows must be the same as there are, up to fifty, and they must not all be alike.
bool Settler::repeats_from(const RawRows& rows, std::size_t k, double raw) const {
  const auto same = [&](std::size_t a, std::size_t b) {
    return rows.time[a] == rows.time[b] && rows.voltage[a] == rows.voltage[b] &&
           rows.current[a] == rows.current[b];
  };
  // Times above rise, so the earlier row is found by halving; where they do not, nothing is lost.
  const auto end =
      rows.time.begin() + static_cast<std::ptrdiff_t>(repeated_until_ ? repeat_row_ : k);
  const auto found = std::lower_bound(rows.time.begin(), end, raw);
  if (found == end) return false;
  const auto from = static_cast<std::size_t>(found - rows.time.begin());
  if (from >= k || rows.time[from] != raw) return false;
  if (repeated_until_) return same(from, k);
  std::size_t alike = 0;
  bool varied = false;
  for (std::size_t j = 0; j < 50 && k + j < rows.size() && from + j < k; ++j) {
    if (!same(from + j, k + j)) break;
    ++alike;
    varied = varied || rows.voltage[from + j] != rows.voltage[from];
  }
  const std::size_t there = std::min({std::size_t{50}, rows.size() - k, k - from});
  return alike >= 5 && varied && alike == there;
}

void Settler::settle_clock(RawRows& rows) {
  if (coarse_) spread_coarse_stamps(rows, 0);
  const std::size_t n = rows.size();
  std::vector<char>& keep = keep_;
  std::vector<double>& final_s = final_s_;
  keep.assign(n, 1);
  final_s.resize(n);
  const bool stamps = time_kind_ == TimeKind::stamp || time_kind_ == TimeKind::date_and_clock;
  const bool zoneless = stamps && !has_zone(layout_.first_row.at(roles_.time.index));
  const bool step_time = roles_.time.field.meaning == Meaning::step_time;
  Clock& c = clock_;
  std::size_t before = n;  // the kept row before, in this batch
  double last_final = log_.time_s.empty() ? 0.0 : log_.time_s.back();
  for (std::size_t k = 0; k < n; ++k) {
    const double raw = rows.time[k];
    const double usual = std::max(c.usual_s, 1e-3);
    if (std::isnan(raw)) {
      left_out_.add_fault("a time that is none", rows.line[k], roles_.time.index + 1,
                          "a time like that of the rows before");
      keep[k] = 0;
      continue;
    }
    if (!c.begun) {
      c.begun = true;
      c.first_raw = c.last_raw = raw;
      c.offset = -raw;
    }
    if (repeated_until_ && k > 0) {
      if (raw <= *repeated_until_ && repeats_from(rows, k, raw)) {
        left_out_.add("written twice", rows.line[k]);
        keep[k] = 0;
        continue;
      }
      repeated_until_.reset();
    }
    const double step = raw - c.last_raw;
    const double next = k + 1 < n ? rows.time[k + 1] : nan;
    if (step < 0.0) {
      const bool goes_on = std::isnan(next) || (next >= raw && next - raw <= 20.0 * usual);
      const bool near_first = std::abs(raw - c.first_raw) <= 1.5 * usual ||
                              (stamps ? false : raw >= 0.0 && raw <= 1.5 * usual);
      if (coarse_ && step > -1.5 * usual) {
        c.offset -= step;  // the edge of a spread stamp
      } else if (step_time) {
        join_at_restart(raw, last_final);
        if (c.restarts++ == 0) c.restart_line = rows.line[k];
      } else if (before < n && before > 0 && keep[before - 1] && raw >= rows.time[before - 1] &&
                 c.last_raw - rows.time[before - 1] > 5.0 * usual &&
                 raw - rows.time[before - 1] <= 5.0 * usual) {
        // It was the row before that stood too far ahead.
        left_out_.add_fault("a time far ahead of the rows around it", rows.line[before],
                            roles_.time.index + 1, "times that rise from row to row");
        keep[before] = 0;
        last_final = final_s[before - 1];
      } else if (!std::isnan(next) && next >= c.last_raw && next - c.last_raw <= 5.0 * usual) {
        left_out_.add_fault(fmt::format("a time that goes back by {:g} s", -step), rows.line[k],
                            roles_.time.index + 1, "times that rise from row to row");
        keep[k] = 0;
        continue;
      } else if (time_kind_ == TimeKind::clock && c.last_raw > day_s / 2.0 && c.last_raw < day_s &&
                 step < -day_s / 2.0) {
        c.offset += day_s;
        ++c.midnights;
      } else if (time_kind_ == TimeKind::clock && c.last_raw < 13.0 * hour_s &&
                 c.last_raw >= 12.0 * hour_s && step < -11.0 * hour_s) {
        c.offset += day_s / 2.0;  // a clock of twelve hours without halves
        ++c.midnights;
      } else if (repeats_from(rows, k, raw)) {
        repeated_until_ = c.last_raw;
        repeat_row_ = k;
        left_out_.add("written twice", rows.line[k]);
        keep[k] = 0;
        continue;
      } else if (near_first && goes_on && c.rows_since_start >= 5) {
        join_at_restart(raw, last_final);
        if (c.restarts++ == 0) c.restart_line = rows.line[k];
        c.rows_since_start = 0;
      } else if (zoneless && std::abs(step + hour_s) <= std::max(2.0 * usual, 5.0)) {
        c.offset += hour_s;
        ++c.hours_back;
      } else {
        left_out_.doubt(fmt::format("a time that goes back by {:g} s", -step), rows.line[k],
                        roles_.time.index + 1, "times that rise from row to row");
        c.offset = last_final + c.usual_s - raw;
        if (c.jumps++ == 0) c.jump_line = rows.line[k];
      }
    } else if (time_kind_ == TimeKind::clock && c.midnights > 0 && step > 0.9 * day_s &&
               c.last_raw < day_s / 2.0) {
      left_out_.add_fault("a clock that goes back over midnight", rows.line[k],
                          roles_.time.index + 1, "times that rise from row to row");
      keep[k] = 0;
      continue;
    } else if (step == 0.0 && !coarse_ && before < n && rows.voltage[k] == rows.voltage[before] &&
               rows.current[k] == rows.current[before]) {
      left_out_.add("written twice", rows.line[k]);
      keep[k] = 0;
      continue;
    } else if (zoneless && std::abs(step - hour_s) <= std::max(2.0 * usual, 5.0) &&
               usual < hour_s / 10.0 && clocks_go_forward(raw) &&
               std::fmod(raw, day_s) >= 2.0 * hour_s && std::fmod(raw, day_s) <= 4.0 * hour_s) {
      c.offset -= hour_s;
      ++c.hours_back;
    }
    final_s[k] = std::max(raw + c.offset, last_final);
    last_final = final_s[k];
    c.last_raw = raw;
    ++c.rows_since_start;
    before = k;
  }
  rows.time.swap(final_s);
  if (std::find(keep.begin(), keep.end(), 0) != keep.end()) rows.retain(keep);
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

void Settler::sign_from_state(RawRows& rows) {
  if (by_state_)
    for (std::size_t k = 0; k < rows.size(); ++k)
      if (rows.flow[k] == Flow::charge) rows.current[k] = -rows.current[k];
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

std::optional<Question> Settler::settle_sign() {
  const auto flip = [&] {
    for (auto* column : {&log_.current_A, &log_.charge_As, &log_.energy_Ws})
      for (double& x : *column) x = -x;
  };
  if (options_.sign != SignRule::automatic) {
    if (options_.sign == SignRule::charge_positive) flip();
    if (find_sign(log_.current_A, log_.voltage_V) == SignEvidence::charge_positive)
      note(findings::Id::sign_against_voltage,
           "The voltage answers the current the other way round than the sign that was given.",
           "--sign", Severity::caution, "Check it: a cell's voltage rises while it is charged.");
    return std::nullopt;
  }
  if (by_state_) {
    note(findings::Id::sign_from_state,
         fmt::format("The current has no sign; charge and discharge are taken from '{}'.",
                     header(*roles_.state)),
         "header");
    return std::nullopt;
  }
  if (roles_.charge_current) {
    note(findings::Id::sign_from_columns,
         fmt::format("Discharge current is taken from '{}', charge current from '{}'.",
                     header(roles_.current), header(*roles_.charge_current)),
         "header");
    return std::nullopt;
  }
  switch (find_sign(log_.current_A, log_.voltage_V)) {
    case SignEvidence::charge_positive:
      flip();
      return std::nullopt;
    case SignEvidence::discharge_positive:
      return std::nullopt;
    case SignEvidence::unsigned_values:
      sign_stretches(log_.current_A, log_.voltage_V);
      for (std::size_t k = 0; k < log_.rows(); ++k) {
        log_.charge_As[k] = std::copysign(log_.charge_As[k], log_.current_A[k]);
        log_.energy_Ws[k] = std::copysign(log_.energy_Ws[k], log_.current_A[k]);
      }
      note(findings::Id::sign_from_voltage,
           "The current has no sign; charge and discharge are told apart by how the voltage "
           "answers.",
           "");
      return std::nullopt;
    case SignEvidence::changes:
      return Question{"the sign of the current seems to change its meaning within the log",
                      {"positive current discharges the cell throughout",
                       "positive current charges the cell throughout"},
                      "--sign discharge-positive; if neither is true, cut the log in two where "
                      "the sign turns",
                      {"sign=discharge-positive", "sign=charge-positive"}};
    case SignEvidence::none:
      break;
  }
  if (std::all_of(log_.current_A.begin(), log_.current_A.end(), [](double x) { return x == 0.0; }))
    return std::nullopt;
  return Question{"which way the current flows",
                  {"positive current discharges the cell", "positive current charges the cell"},
                  "--sign discharge-positive",
                  {"sign=discharge-positive", "sign=charge-positive"}};
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
  report();
  list_columns();
  return std::move(log_);
}

}  // namespace logs
