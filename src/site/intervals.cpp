// SPDX-License-Identifier: Apache-2.0
#include "site/intervals.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/csv_table.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "site/stamps.hpp"

namespace site {
namespace {

using base::CsvTable;
using base::InputError;
using findings::Severity;

enum class Unit { kW, W, kWh, Wh, counter_kWh };
struct Column {
  std::string what;  ///< load, import, solar, export
  std::size_t at = 0;
  Unit unit = Unit::kW;
};

std::vector<Column> columns_of(const CsvTable& table, const std::string& file, std::size_t time) {
  std::vector<Column> columns;
  for (std::size_t i = 0; i < table.header().size(); ++i) {
    if (i == time) continue;
    const std::string name = base::lower(table.header()[i]);
    const auto found = [&]() -> std::optional<Column> {
      for (const char* what : {"load", "import", "solar", "export"}) {
        if (!name.starts_with(what)) continue;
        const std::string rest = name.substr(std::string_view(what).size());
        for (const auto& [suffix, unit] : {std::pair{"_kw", Unit::kW},
                                           {"_w", Unit::W},
                                           {"_kwh", Unit::kWh},
                                           {"_wh", Unit::Wh},
                                           {"_counter_kwh", Unit::counter_kWh}})
          if (rest == suffix) return Column{what, i, unit};
      }
      return std::nullopt;
    }();
    if (!found)
      throw InputError({file, 1, i + 1},
                       fmt::format("the column '{}'", base::to_utf8(table.header()[i])),
                       "load, import, solar or export with its unit behind: _kW, _W (mean power), "
                       "_kWh, _Wh (of each interval), _counter_kWh (a reading that only rises)",
                       "say in the name what it is; kW and kWh of a quarter hour differ fourfold");
    columns.push_back(*found);
  }
  return columns;
}

struct Line {
  long minute;  ///< standard time
  const CsvTable::Row* row;
};
/// Rows in order on one clock without summer time.
struct Lines {
  std::vector<Line> lines;
  std::map<long, long> steps;  ///< minutes between rows, and how often
  std::size_t twice = 0, changes = 0;
};

/// Sees by the rows themselves where a clock without an offset was put forward or back.
class SummerTime {
 public:
  SummerTime(const CsvTable& table, const std::vector<Column>& columns, std::size_t time)
      : table_(table), columns_(columns), time_(time) {}
  /// Minutes of standard time, or nothing where the row before stands there again.
  std::optional<long> standard(const CsvTable::Row& row, const Stamp& stamp, Lines& l) {
    if (seen_) {
      const base::CivilDay day = base::civil_day(stamp.minute / 1440);
      const long step = stamp.minute - last_;
      if (step <= 0) {
        if (step == 0 && same(row, *l.lines.back().row)) {
          ++l.twice;
          return std::nullopt;
        }
        const bool turns = day.month == 10 || day.month == 11 || day.month == 4;
        // The hour that comes twice: the clock goes back by sixty minutes less one step.
        if (!turns || l.steps.empty() || step != l.steps.begin()->first - 60)
          table_.refuse(row, time_,
                        fmt::format("'{}' behind the row before", table_.text(row, time_)),
                        step == 0 ? "one row for each time" : "times that ascend",
                        "sort the rows, and keep the one that holds");
        ahead_ -= 60, ++l.changes;
      } else if (!l.steps.empty()) {
        const long usual = l.steps.begin()->first;
        const bool spring = step == usual + 60 &&
                            (day.month == 3 || day.month == 4 || day.month == 9 || day.month == 10);
        if (spring) ahead_ += 60, ++l.changes;
      }
    }
    last_ = stamp.minute, seen_ = true;
    return stamp.minute - ahead_;
  }
  void saw(const Stamp& stamp) {
    if (!seen_) last_ = stamp.minute, seen_ = true;
  }

 private:
  [[nodiscard]] bool same(const CsvTable::Row& a, const CsvTable::Row& b) const {
    return std::all_of(columns_.begin(), columns_.end(), [&](const Column& c) {
      return table_.text(a, c.at) == table_.text(b, c.at);
    });
  }
  const CsvTable& table_;
  const std::vector<Column>& columns_;
  std::size_t time_;
  long ahead_ = 0;  ///< minutes by which the clock runs ahead of where the file began
  long last_ = 0;
  bool seen_ = false;
};

Lines lines_of(const CsvTable& table, const std::vector<Column>& columns, std::size_t time) {
  Lines l;
  SummerTime summer(table, columns, time);
  for (const CsvTable::Row& row : table.rows()) {
    const Stamp stamp = stamp_in(table, row, time);
    long minute = 0;
    if (stamp.offset_min) {
      minute = stamp.minute - *stamp.offset_min;  // then the clock's changes are told
      summer.saw(stamp);
    } else {
      const auto standard = summer.standard(row, stamp, l);
      if (!standard) continue;
      minute = *standard;
    }
    if (!l.lines.empty()) {
      const long step = minute - l.lines.back().minute;
      if (step <= 0)
        table.refuse(row, time, fmt::format("'{}' behind the row before", table.text(row, time)),
                     "times that ascend", "sort the rows");
      ++l.steps[step];
    }
    l.lines.push_back({minute, &row});
  }
  return l;
}

/// The year that is taken from a file: whole days, the latest where there is more.
struct Span {
  long step_min = 15, first_day = 0, days = 365;  ///< `days` that the file holds
  [[nodiscard]] std::size_t steps() const { return std::size_t(365 * 1440 / step_min); }
  [[nodiscard]] double step_h() const { return double(step_min) / 60.0; }
};
Span span_of(const Lines& l, const std::string& file) {
  if (l.lines.size() < 100)
    throw InputError({file, 0, 0}, fmt::format("{} rows", l.lines.size()), "a year of intervals",
                     "export the whole year");
  Span span;
  span.step_min = 0;
  long most = 0;
  for (const auto& [step, count] : l.steps)
    if (count > most) span.step_min = step, most = count;
  if (1440 % span.step_min != 0 || span.step_min > 60)
    throw InputError({file, 0, 0}, fmt::format("intervals of {} minutes", span.step_min),
                     "5, 10, 15, 20, 30 or 60 minutes", "export equal intervals");
  const long first = l.lines.front().minute, end = l.lines.back().minute + span.step_min;
  const long first_day = first / 1440 + (first % 1440 != 0 ? 1 : 0), last_day = end / 1440;
  span.days = last_day - first_day;
  if (span.days < 365)
    throw InputError({file, 0, 0}, fmt::format("{} whole days", span.days), "365 or more",
                     "export a whole year: half a year says nothing of the other half");
  span.first_day = last_day - 365;
  return span;
}

/// Mean power of a value; a counter by what it rose since `before`, which it sets.
double power_of(const Column& c, double value, double step_h, double& before, std::size_t& resets) {
  switch (c.unit) {
    case Unit::kW:
      return value;
    case Unit::W:
      return value / 1000.0;
    case Unit::kWh:
      return value / step_h;
    case Unit::Wh:
      return value / 1000.0 / step_h;
    case Unit::counter_kWh:
      break;
  }
  if (value < before) {
    ++resets;
    before = 0.0;
  }
  const double kW = (value - before) / step_h;
  before = value;
  return kW;
}

/// One column in kW by step of the year; NaN where nothing was told.
std::vector<double> column_kW(const CsvTable& table, const std::string& file, const Column& c,
                              const Lines& l, const Span& span, std::size_t& resets) {
  const double none = std::numeric_limits<double>::quiet_NaN();
  std::vector<double> out(span.steps(), none);
  double before = none, highest = 0.0;
  std::size_t falls = 0, rises = 0;
  std::optional<double> last_value;
  for (const Line& line : l.lines) {
    const auto value = table.number(*line.row, c.at);
    if (!value) {
      before = none;
      continue;
    }
    if (last_value) (*value >= *last_value ? rises : falls) += 1;
    last_value = value;
    const double kW = power_of(c, *value, span.step_h(), before, resets);
    if (kW < -0.001 || kW > 1000.0)
      table.refuse(*line.row, c.at, fmt::format("{:g} kW of {}", kW, c.what), "0 to 1000 kW",
                   c.unit == Unit::counter_kWh ? "see what the meter did there"
                                               : "correct the value, or the unit in the column's "
                                                 "name");
    highest = std::max(highest, kW);
    // A counter's difference belongs to the interval before its reading.
    const long since = line.minute - span.first_day * 1440,
               at = since / span.step_min - (c.unit == Unit::counter_kWh ? 1 : 0);
    if (at >= 0 && at < long(out.size()) && since % span.step_min == 0)
      out[std::size_t(at)] = std::max(0.0, kW);
  }
  if (c.unit != Unit::counter_kWh && falls < rises / 200 && rises > 1000)
    throw InputError({file, 1, c.at + 1},
                     fmt::format("values of '{}' that only rise", table.header()[c.at]),
                     "the energy or power of each interval",
                     fmt::format("if it is a counter's reading, name it {}_counter_kWh", c.what));
  if (highest == 0.0 && c.what != "export")
    throw InputError({file, 1, c.at + 1}, "a column of zeros", "what was measured",
                     "see what was exported");
  return out;
}

/// The same time of the nearest week that has it; NaN where none has.
double by_week_at(const std::vector<double>& x, std::size_t k, std::size_t week) {
  for (std::size_t w = 1; w <= 52; ++w) {
    if (k >= w * week && !std::isnan(x[k - w * week])) return x[k - w * week];
    if (k + w * week < x.size() && !std::isnan(x[k + w * week])) return x[k + w * week];
  }
  return std::numeric_limits<double>::quiet_NaN();
}

struct Filled {
  std::size_t straight = 0, by_week = 0;
};
/// Gaps of up to two hours straight, longer ones by the same hours of another week.
void fill_gaps(std::vector<double>& out, const std::string& what, const std::string& file,
               const Span& span, Filled& filled) {
  const std::size_t n = out.size(), week = std::size_t(7 * 1440 / span.step_min),
                    longest = std::size_t(120 / span.step_min);
  for (std::size_t i = 0; i < n;) {
    if (!std::isnan(out[i])) {
      ++i;
      continue;
    }
    std::size_t to = i;
    while (to < n && std::isnan(out[to])) ++to;
    const bool small = to - i <= longest && (i > 0 || to < n);
    for (std::size_t k = i; k < to; ++k) {
      if (small) {
        const double f = double(k - i + 1) / double(to - i + 1);
        const double before = out[i > 0 ? i - 1 : to], behind = out[to < n ? to : i - 1];
        out[k] = before + f * (behind - before);
        ++filled.straight;
        continue;
      }
      out[k] = by_week_at(out, k, week);
      if (std::isnan(out[k]))
        throw InputError({file, 0, 0}, fmt::format("no value of {} for one time of the week", what),
                         "values through the year", "export it again");
      ++filled.by_week;
    }
    i = to;
  }
}

/// What was done to a file, told.
class Notes {
 public:
  Notes(Metered& m, const std::string& file) : m_(m), file_(file) {}
  void add(findings::Id id, Severity severity, std::string what, std::string measured,
           std::string why, std::string remedy) {
    m_.findings.push_back({.id = id,
                           .severity = severity,
                           .what = std::move(what),
                           .where = file_,
                           .measured = std::move(measured),
                           .limit = "",
                           .why = std::move(why),
                           .remedy = std::move(remedy),
                           .basis = "as in the file"});
  }
  void of_gaps(const Filled& filled, double step_h) {
    if (filled.straight > 0)
      add(findings::Id::small_gaps_filled, Severity::note,
          "Gaps of up to two hours were filled straight.",
          fmt::format("{} intervals", filled.straight), "A hole would look like nothing used.",
          "Nothing.");
    if (filled.by_week > 0)
      add(findings::Id::long_gaps_filled, Severity::caution,
          "Longer gaps were filled with the same hours of another week.",
          fmt::format("{:.1f} h", double(filled.by_week) * step_h),
          "What happened in them is not known.", "Export these days again, if the meter has them.");
  }
  void of_clock(const Lines& l, std::size_t resets) {
    if (l.twice > 0)
      add(findings::Id::rows_twice, Severity::note, "Rows that stood there twice were left out.",
          fmt::format("{} rows", l.twice), "They would count double.", "Nothing.");
    if (l.changes > 0)
      add(findings::Id::summer_time, Severity::note,
          "The clock changes; days of 23 and 25 hours are kept apart.",
          fmt::format("{} changes", l.changes), "The sun knows no summer time.", "Nothing.");
    if (resets > 0)
      add(findings::Id::counter_started_again, Severity::caution, "A counter started again.",
          fmt::format("{} times", resets),
          "What passed since the reading before it is counted from zero.",
          "Compare with the bill.");
  }

 private:
  Metered& m_;
  const std::string& file_;
};

/// Load, sun and export of the series; used = from the grid + from the sun − to the grid.
void settle(Metered& m, std::map<std::string, std::vector<double>>& series) {
  m.load_is_import = !series.contains("load");
  m.year.load_kW = m.load_is_import ? series["import"] : series["load"];
  const std::size_t n = m.year.load_kW.size();
  m.has_solar = series.contains("solar"), m.has_export = series.contains("export");
  if (m.has_solar)
    m.year.solar_kW = series["solar"];
  else
    m.year.solar_kW.assign(n, 0.0);
  if (m.has_export) m.export_kW = series["export"];
  if (!m.load_is_import || !m.has_solar) return;
  for (std::size_t i = 0; i < n; ++i)
    m.year.load_kW[i] = std::max(
        0.0, m.year.load_kW[i] + m.year.solar_kW[i] - (m.has_export ? m.export_kW[i] : 0.0));
  m.load_is_import = false;
}

}  // namespace

Metered read_intervals(std::string_view bytes, const std::string& file, bool solar_alone) {
  const CsvTable table(bytes, file);
  const std::size_t time = time_column(table);
  const std::vector<Column> columns = columns_of(table, file, time);
  const auto has = [&](std::string_view what) {
    return std::any_of(columns.begin(), columns.end(),
                       [&](const Column& c) { return c.what == what; });
  };
  const bool used = has("load") || has("import");
  if (solar_alone && !has("solar"))
    throw InputError({file, 1, 0}, "no column solar_…", "what the panels gave, such as solar_kWh",
                     "name the column");
  if (!used && !solar_alone)
    throw InputError({file, 1, 0}, "no column load_… or import_…",
                     "what the house used, or what the grid gave", "name the column");
  Metered m;
  Notes notes(m, file);
  const Lines l = lines_of(table, columns, time);
  const Span span = span_of(l, file);
  if (span.days > 366)
    notes.add(findings::Id::more_than_a_year, Severity::note,
              "The file holds more than a year; the latest is used.",
              fmt::format("{} days", span.days), "A year counts every season once.",
              "Nothing, if the latest year is the one that counts.");
  m.year.step_h = span.step_h();
  m.year.first_day = span.first_day;
  std::map<std::string, std::vector<double>> series;
  std::size_t resets = 0;
  for (const Column& c : columns) {
    if (series.contains(c.what))
      throw InputError({file, 1, c.at + 1}, fmt::format("a second column of {}", c.what),
                       "one of each", "take one out");
    series[c.what] = column_kW(table, file, c, l, span, resets);
  }
  Filled filled;
  for (auto& [what, out] : series) fill_gaps(out, what, file, span, filled);
  if (filled.by_week > span.steps() / 5)
    throw InputError({file, 0, 0},
                     fmt::format("{} of {} intervals missing", filled.by_week, span.steps()),
                     "a year with few gaps", "export it again");
  notes.of_gaps(filled, span.step_h());
  notes.of_clock(l, resets);
  if (!used) series["load"].assign(span.steps(), 0.0);  // the panels alone
  settle(m, series);
  if (m.load_is_import)
    notes.add(findings::Id::import_as_load, Severity::caution,
              "What the grid gave is taken for what the house used.", "",
              "With panels on the roof already, what they gave to the house is missing from it.",
              "Give a column solar_… as well, or a year before the panels.");
  return m;
}

}  // namespace site
