// SPDX-License-Identifier: Apache-2.0
// One clock for the whole log: what restarts, jumps, repeats or passes midnight is joined.
#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "logs/settle.hpp"

namespace logs {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();
constexpr double day_s = 86400.0, hour_s = 3600.0;

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

}  // namespace

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

/// What the clocks of neighbouring rows show, while they are settled.
struct Settler::Walk {
  RawRows& rows;
  std::vector<char>& keep;
  std::vector<double>& final_s;
  std::size_t before;  ///< the kept row before, in this batch; the number of rows: none
  double last_final;
  bool stamps, zoneless, step_time;
};

/// The time goes back: a step's own clock, a glitch, midnight, a block written twice, another test,
/// summer time, or a jump that nothing explains. False where the row is left out.
bool Settler::goes_back(Walk& w, std::size_t k, double usual) {
  Clock& c = clock_;
  const RawRows& rows = w.rows;
  const std::size_t n = rows.size();
  const double raw = rows.time[k], step = raw - c.last_raw;
  const double next = k + 1 < n ? rows.time[k + 1] : nan;
  const bool goes_on = std::isnan(next) || (next >= raw && next - raw <= 20.0 * usual);
  const bool near_first = std::abs(raw - c.first_raw) <= 1.5 * usual ||
                          (w.stamps ? false : raw >= 0.0 && raw <= 1.5 * usual);
  const auto leave_out = [&](std::size_t row, std::string what) {
    left_out_.add_fault(what, rows.line[row], roles_.time.index + 1,
                        "times that rise from row to row");
    w.keep[row] = 0;
  };
  const auto restart = [&] {
    join_at_restart(raw, w.last_final);
    if (c.restarts++ == 0) c.restart_line = rows.line[k];
  };
  if (coarse_ && step > -1.5 * usual) {
    c.offset -= step;  // the edge of a spread stamp
  } else if (w.step_time) {
    restart();
  } else if (w.before < n && w.before > 0 && w.keep[w.before - 1] &&
             raw >= rows.time[w.before - 1] && c.last_raw - rows.time[w.before - 1] > 5.0 * usual &&
             raw - rows.time[w.before - 1] <= 5.0 * usual) {
    // It was the row before that stood too far ahead.
    leave_out(w.before, "a time far ahead of the rows around it");
    w.last_final = w.final_s[w.before - 1];
  } else if (!std::isnan(next) && next >= c.last_raw && next - c.last_raw <= 5.0 * usual) {
    leave_out(k, fmt::format("a time that goes back by {:g} s", -step));
    return false;
  } else if (passes_midnight(step)) {
    ++c.midnights;
  } else if (repeats_from(rows, k, raw)) {
    repeated_until_ = c.last_raw;
    repeat_row_ = k;
    left_out_.add("written twice", rows.line[k]);
    w.keep[k] = 0;
    return false;
  } else if (near_first && goes_on && c.rows_since_start >= 5) {
    restart();
    c.rows_since_start = 0;
  } else if (w.zoneless && std::abs(step + hour_s) <= std::max(2.0 * usual, 5.0)) {
    c.offset += hour_s;
    ++c.hours_back;
  } else {
    left_out_.doubt(fmt::format("a time that goes back by {:g} s", -step), rows.line[k],
                    roles_.time.index + 1, "times that rise from row to row");
    c.offset = w.last_final + c.usual_s - raw;
    if (c.jumps++ == 0) c.jump_line = rows.line[k];
  }
  return true;
}

/// A clock without a date runs over midnight, or, of twelve hours without halves, over noon.
bool Settler::passes_midnight(double step) {
  Clock& c = clock_;
  if (time_kind_ != TimeKind::clock) return false;
  if (c.last_raw > day_s / 2.0 && c.last_raw < day_s && step < -day_s / 2.0) {
    c.offset += day_s;
    return true;
  }
  if (c.last_raw < 13.0 * hour_s && c.last_raw >= 12.0 * hour_s && step < -11.0 * hour_s) {
    c.offset += day_s / 2.0;
    return true;
  }
  return false;
}

/// The time stands still or goes on. False where the row is left out.
bool Settler::goes_on(Walk& w, std::size_t k, double usual) {
  Clock& c = clock_;
  const RawRows& rows = w.rows;
  const double raw = rows.time[k], step = raw - c.last_raw;
  if (time_kind_ == TimeKind::clock && c.midnights > 0 && step > 0.9 * day_s &&
      c.last_raw < day_s / 2.0) {
    left_out_.add_fault("a clock that goes back over midnight", rows.line[k], roles_.time.index + 1,
                        "times that rise from row to row");
    w.keep[k] = 0;
    return false;
  }
  if (step == 0.0 && !coarse_ && w.before < rows.size() &&
      rows.voltage[k] == rows.voltage[w.before] && rows.current[k] == rows.current[w.before]) {
    left_out_.add("written twice", rows.line[k]);
    w.keep[k] = 0;
    return false;
  }
  if (w.zoneless && std::abs(step - hour_s) <= std::max(2.0 * usual, 5.0) &&
      usual < hour_s / 10.0 && clocks_go_forward(raw) && std::fmod(raw, day_s) >= 2.0 * hour_s &&
      std::fmod(raw, day_s) <= 4.0 * hour_s) {
    c.offset -= hour_s;
    ++c.hours_back;
  }
  return true;
}

void Settler::settle_clock(RawRows& rows) {
  if (coarse_) spread_coarse_stamps(rows, 0);
  const std::size_t n = rows.size();
  keep_.assign(n, 1);
  final_s_.resize(n);
  const bool stamps = time_kind_ == TimeKind::stamp || time_kind_ == TimeKind::date_and_clock;
  Walk w{rows,
         keep_,
         final_s_,
         n,
         log_.time_s.empty() ? 0.0 : log_.time_s.back(),
         stamps,
         stamps && !has_zone(layout_.first_row.at(roles_.time.index)),
         roles_.time.field.meaning == Meaning::step_time};
  Clock& c = clock_;
  for (std::size_t k = 0; k < n; ++k) {
    const double raw = rows.time[k];
    const double usual = std::max(c.usual_s, 1e-3);
    if (std::isnan(raw)) {
      left_out_.add_fault("a time that is none", rows.line[k], roles_.time.index + 1,
                          "a time like that of the rows before");
      keep_[k] = 0;
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
        keep_[k] = 0;
        continue;
      }
      repeated_until_.reset();
    }
    const bool back = raw < c.last_raw;
    if (!(back ? goes_back(w, k, usual) : goes_on(w, k, usual))) continue;
    final_s_[k] = std::max(raw + c.offset, w.last_final);
    w.last_final = final_s_[k];
    c.last_raw = raw;
    ++c.rows_since_start;
    w.before = k;
  }
  rows.time.swap(final_s_);
  if (std::find(keep_.begin(), keep_.end(), 0) != keep_.end()) rows.retain(keep_);
}

}  // namespace logs
