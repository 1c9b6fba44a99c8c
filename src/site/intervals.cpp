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

namespace site {
namespace {

using base::CsvTable;
using base::InputError;
using findings::Severity;

/// A stamp in minutes since 1970 on the clock that wrote it, and the offset from UTC if it says
/// one.
struct Stamp {
  long minute = 0;
  std::optional<long> offset_min;
};
std::optional<Stamp> stamp_of(std::string_view text) {
  text = base::trimmed(text);
  if (text.size() < 16 || (text[10] != ' ' && text[10] != 'T') || text[13] != ':')
    return std::nullopt;
  const auto day = base::day_of(text.substr(0, 10));
  const auto two = [&](std::size_t at) -> std::optional<long> {
    const char a = text[at], b = text[at + 1];
    if (a < '0' || a > '9' || b < '0' || b > '9') return std::nullopt;
    return (a - '0') * 10 + (b - '0');
  };
  const auto h = two(11), m = two(14);
  if (!day || !h || !m || *h > 23 || *m > 59) return std::nullopt;
  Stamp s{*day * 1440 + *h * 60 + *m, std::nullopt};
  std::string_view rest = text.substr(16);
  if (rest.size() >= 3 && rest[0] == ':') rest.remove_prefix(3);
  if (!rest.empty() && rest[0] == '.')
    rest.remove_prefix(std::min(rest.find_first_of("Z+-"), rest.size()));
  if (rest == "Z")
    s.offset_min = 0;
  else if (rest.size() == 6 && (rest[0] == '+' || rest[0] == '-') && rest[3] == ':') {
    const long hours = (rest[1] - '0') * 10 + (rest[2] - '0'),
               minutes = (rest[4] - '0') * 10 + (rest[5] - '0');
    s.offset_min = (rest[0] == '-' ? -1 : 1) * (hours * 60 + minutes);
  } else if (!rest.empty()) {
    return std::nullopt;
  }
  return s;
}

std::size_t time_column(const CsvTable& table) {
  return table.must_have({"time", "start", "datetime", "date"});
}
Stamp stamp_in(const CsvTable& table, const CsvTable::Row& row, std::size_t time) {
  const auto stamp = stamp_of(table.text(row, time));
  if (!stamp)
    table.refuse(row, time, fmt::format("'{}' as a time", table.text(row, time)),
                 "a time such as 2025-03-30 01:45", "write year, month, day, hour and minute");
  return *stamp;
}

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

}  // namespace

Metered read_intervals(std::string_view bytes, const std::string& file, bool solar_alone) {
  const CsvTable table(bytes, file);
  const std::size_t time = time_column(table);
  const std::vector<Column> columns = columns_of(table, file, time);
  const bool used = std::any_of(columns.begin(), columns.end(), [](const Column& c) {
    return c.what == "load" || c.what == "import";
  });
  const bool panels = std::any_of(columns.begin(), columns.end(),
                                  [](const Column& c) { return c.what == "solar"; });
  if (solar_alone && !panels)
    throw InputError({file, 1, 0}, "no column solar_…", "what the panels gave, such as solar_kWh",
                     "name the column");
  if (!used && !solar_alone)
    throw InputError({file, 1, 0}, "no column load_… or import_…",
                     "what the house used, or what the grid gave", "name the column");
  Metered m;
  const auto note = [&](findings::Id id, Severity severity, std::string what, std::string where,
                        std::string measured, std::string why, std::string remedy) {
    m.findings.push_back({.id = id,
                          .severity = severity,
                          .what = std::move(what),
                          .where = std::move(where),
                          .measured = std::move(measured),
                          .limit = "",
                          .why = std::move(why),
                          .remedy = std::move(remedy),
                          .basis = "as in the file"});
  };
  struct Line {
    long minute;  ///< standard time
    const CsvTable::Row* row;
  };
  std::vector<Line> lines;
  std::map<long, long> steps;
  long summer = 0;  // minutes by which the clock runs ahead of where the file began
  std::size_t twice = 0, changes = 0;
  long last_clock = std::numeric_limits<long>::min();
  for (const CsvTable::Row& row : table.rows()) {
    const Stamp stamp = stamp_in(table, row, time);
    long minute = stamp.minute;
    if (stamp.offset_min) {
      minute -= *stamp.offset_min;  // then the clock's changes are told
    } else if (last_clock != std::numeric_limits<long>::min()) {
      const base::CivilDay day = base::civil_day(minute / 1440);
      const long step = minute - last_clock;
      if (step <= 0) {
        const bool turns = day.month == 10 || day.month == 11 || day.month == 4;
        bool same = step == 0;
        for (const Column& c : columns)
          same = same && table.text(row, c.at) == table.text(*lines.back().row, c.at);
        if (same) {
          ++twice;
          continue;
        }
        // The hour that comes twice: the clock goes back by sixty minutes less one step.
        if (!turns || steps.empty() || step != steps.begin()->first - 60)
          table.refuse(row, time, fmt::format("'{}' behind the row before", table.text(row, time)),
                       step == 0 ? "one row for each time" : "times that ascend",
                       "sort the rows, and keep the one that holds");
        summer -= 60, ++changes;
      } else if (!steps.empty()) {
        const long usual = steps.begin()->first;
        const bool spring = step == usual + 60 &&
                            (day.month == 3 || day.month == 4 || day.month == 9 || day.month == 10);
        if (spring) summer += 60, ++changes;
      }
      last_clock = stamp.minute;
      minute -= summer;
    }
    if (last_clock == std::numeric_limits<long>::min()) last_clock = stamp.minute;
    if (!lines.empty()) {
      const long step = minute - lines.back().minute;
      if (step <= 0)
        table.refuse(row, time, fmt::format("'{}' behind the row before", table.text(row, time)),
                     "times that ascend", "sort the rows");
      ++steps[step];
    }
    lines.push_back({minute, &row});
  }
  if (lines.size() < 100)
    throw InputError({file, 0, 0}, fmt::format("{} rows", lines.size()), "a year of intervals",
                     "export the whole year");
  long step_min = 0, most = 0;
  for (const auto& [step, count] : steps)
    if (count > most) step_min = step, most = count;
  if (1440 % step_min != 0 || step_min > 60)
    throw InputError({file, 0, 0}, fmt::format("intervals of {} minutes", step_min),
                     "5, 10, 15, 20, 30 or 60 minutes", "export equal intervals");
  const long year_steps = 365 * 1440 / step_min;
  long first = lines.front().minute, end = lines.back().minute + step_min;
  // Whole days only; the latest year where there is more.
  long first_day = first / 1440 + (first % 1440 != 0 ? 1 : 0), last_day = end / 1440;
  if (last_day - first_day < 365)
    throw InputError({file, 0, 0}, fmt::format("{} whole days", last_day - first_day),
                     "365 or more",
                     "export a whole year: half a year says nothing of the other half");
  if (last_day - first_day > 366)
    note(findings::Id::more_than_a_year, Severity::note,
         "The file holds more than a year; the latest is used.", file,
         fmt::format("{} days", last_day - first_day), "A year counts every season once.",
         "Nothing, if the latest year is the one that counts.");
  first_day = last_day - 365;
  m.year.step_h = double(step_min) / 60.0;
  m.year.first_day = first_day;
  const auto n = std::size_t(year_steps);
  const double none = std::numeric_limits<double>::quiet_NaN();
  std::map<std::string, std::vector<double>> series;
  std::size_t resets = 0;
  for (const Column& c : columns) {
    std::vector<double>& out = series[c.what];
    if (!out.empty())
      throw InputError({file, 1, c.at + 1}, fmt::format("a second column of {}", c.what),
                       "one of each", "take one out");
    out.assign(n, none);
    double before = none;
    std::size_t falls = 0, rises = 0;
    double highest = 0.0;
    std::optional<double> last_value;
    for (const Line& line : lines) {
      const auto value = table.number(*line.row, c.at);
      if (!value) {
        before = none;
        continue;
      }
      if (last_value) (*value >= *last_value ? rises : falls) += 1;
      last_value = value;
      double kW = 0.0;
      switch (c.unit) {
        case Unit::kW:
          kW = *value;
          break;
        case Unit::W:
          kW = *value / 1000.0;
          break;
        case Unit::kWh:
          kW = *value / m.year.step_h;
          break;
        case Unit::Wh:
          kW = *value / 1000.0 / m.year.step_h;
          break;
        case Unit::counter_kWh:
          if (*value < before) {
            ++resets;
            before = 0.0;
          }
          kW = (*value - before) / m.year.step_h;
          before = *value;
          break;
      }
      if (kW < -0.001 || kW > 1000.0)
        table.refuse(*line.row, c.at, fmt::format("{:g} kW of {}", kW, c.what), "0 to 1000 kW",
                     c.unit == Unit::counter_kWh
                         ? "see what the meter did there"
                         : "correct the value, or the unit in the column's name");
      highest = std::max(highest, kW);
      // A counter's difference belongs to the interval before its reading.
      const long at =
          (line.minute - first_day * 1440) / step_min - (c.unit == Unit::counter_kWh ? 1 : 0);
      if (at >= 0 && at < year_steps && (line.minute - first_day * 1440) % step_min == 0)
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
  }
  // Gaps.
  std::size_t filled = 0, by_week = 0;
  const std::size_t week = std::size_t(7 * 1440 / step_min), longest = std::size_t(120 / step_min);
  for (auto& [what, out] : series)
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
          ++filled;
          continue;
        }
        double value = none;
        for (std::size_t w = 1; w <= 52 && std::isnan(value); ++w) {
          if (k >= w * week && !std::isnan(out[k - w * week]))
            value = out[k - w * week];
          else if (k + w * week < n && !std::isnan(out[k + w * week]))
            value = out[k + w * week];
        }
        if (std::isnan(value))
          throw InputError({file, 0, 0},
                           fmt::format("no value of {} for one time of the week", what),
                           "values through the year", "export it again");
        out[k] = value;
        ++by_week;
      }
      i = to;
    }
  if (by_week > n / 5)
    throw InputError({file, 0, 0}, fmt::format("{} of {} intervals missing", by_week, n),
                     "a year with few gaps", "export it again");
  if (filled > 0)
    note(findings::Id::small_gaps_filled, Severity::note,
         "Gaps of up to two hours were filled straight.", file, fmt::format("{} intervals", filled),
         "A hole would look like nothing used.", "Nothing.");
  if (by_week > 0)
    note(findings::Id::long_gaps_filled, Severity::caution,
         "Longer gaps were filled with the same hours of another week.", file,
         fmt::format("{:.1f} h", double(by_week) * m.year.step_h),
         "What happened in them is not known.", "Export these days again, if the meter has them.");
  if (twice > 0)
    note(findings::Id::rows_twice, Severity::note, "Rows that stood there twice were left out.",
         file, fmt::format("{} rows", twice), "They would count double.", "Nothing.");
  if (changes > 0)
    note(findings::Id::summer_time, Severity::note,
         "The clock changes; days of 23 and 25 hours are kept apart.", file,
         fmt::format("{} changes", changes), "The sun knows no summer time.", "Nothing.");
  if (resets > 0)
    note(findings::Id::counter_started_again, Severity::caution, "A counter started again.", file,
         fmt::format("{} times", resets),
         "What passed since the reading before it is counted from zero.", "Compare with the bill.");
  if (!used) series["load"].assign(n, 0.0);  // the panels alone
  m.load_is_import = !series.contains("load");
  m.year.load_kW = m.load_is_import ? series["import"] : series["load"];
  m.has_solar = series.contains("solar"), m.has_export = series.contains("export");
  if (m.has_solar)
    m.year.solar_kW = series["solar"];
  else
    m.year.solar_kW.assign(n, 0.0);
  if (m.has_export) m.export_kW = series["export"];
  if (m.load_is_import && m.has_solar) {
    // Used = from the grid + from the sun − to the grid.
    for (std::size_t i = 0; i < n; ++i)
      m.year.load_kW[i] = std::max(
          0.0, m.year.load_kW[i] + m.year.solar_kW[i] - (m.has_export ? m.export_kW[i] : 0.0));
    m.load_is_import = false;
  }
  if (m.load_is_import)
    note(findings::Id::import_as_load, Severity::caution,
         "What the grid gave is taken for what the house used.", file, "",
         "With panels on the roof already, what they gave to the house is missing from it.",
         "Give a column solar_… as well, or a year before the panels.");
  return m;
}

std::vector<double> read_prices(std::string_view bytes, const std::string& file, const Year& year) {
  const CsvTable table(bytes, file);
  const std::size_t time = time_column(table);
  const auto kWh = table.column({"price", "price_kWh"}),
             MWh = table.column({"price_MWh", "Price (EUR/MWh)"});
  if (kWh.has_value() == MWh.has_value())
    throw InputError({file, 1, 0}, "no column price or price_MWh, or both", "one of the two",
                     "say in the name what the price is for");
  // By day of the year and hour.
  std::vector<double> by_hour(366 * 24, std::numeric_limits<double>::quiet_NaN());
  std::size_t rows = 0;
  for (const auto& row : table.rows()) {
    const Stamp stamp = stamp_in(table, row, time);
    const auto value = table.number(row, kWh ? *kWh : *MWh);
    if (!value) continue;
    const long of_year = base::day_of_year(stamp.minute / 1440) - 1;
    by_hour[std::size_t(of_year * 24 + stamp.minute % 1440 / 60)] = MWh ? *value / 1000.0 : *value;
    ++rows;
  }
  if (rows < 8700)
    throw InputError({file, 0, 0}, fmt::format("{} hours of prices", rows),
                     "a year of 8760, as long as the load", "take a whole year's series");
  double last = 0.0;
  for (double& p : by_hour) p = std::isnan(p) ? last : (last = p);
  std::vector<double> prices(year.steps());
  for (std::size_t i = 0; i < prices.size(); ++i) {
    const long of_year = base::day_of_year(year.first_day + long(i / year.steps_a_day())) - 1;
    prices[i] =
        by_hour[std::size_t(of_year * 24 + long(double(i % year.steps_a_day()) * year.step_h))];
  }
  return prices;
}

Weather read_weather(std::string_view bytes, const std::string& file, const Place& place,
                     double utc_offset_h) {
  const CsvTable table(bytes, file);
  const std::size_t time = time_column(table),
                    global = table.must_have({"global_W_m2", "ghi_W_m2"});
  const auto beam = table.column({"beam_W_m2", "dni_W_m2"}),
             diffuse = table.column({"diffuse_W_m2", "dhi_W_m2"}), air = table.column({"air_C"});
  Weather w;
  w.place = place;
  w.utc_offset_h = utc_offset_h;
  std::optional<long> last;
  for (const CsvTable::Row& row : table.rows()) {
    const Stamp stamp = stamp_in(table, row, time);
    if (last && stamp.minute != *last + 60)
      table.refuse(row, time, fmt::format("{} minutes after the row before", stamp.minute - *last),
                   "hours in order, without gaps and summer time",
                   "export the whole year in standard time");
    if (!last) w.first_day = stamp.minute / 1440;
    last = stamp.minute;
    const auto value = [&](std::optional<std::size_t> column, double low, double high,
                           double fallback) {
      const auto given = table.number(row, column);
      if (column && !given)
        table.refuse(row, *column, "no value", "a number", "take a series without gaps");
      if (given && !(*given >= low && *given <= high))
        table.refuse(row, *column, fmt::format("{:g}", *given),
                     fmt::format("{:g} to {:g}", low, high), "take a series without gaps");
      return given.value_or(fallback);
    };
    const long day = stamp.minute / 1440;
    const double utc_h = double(stamp.minute % 1440) / 60.0 + 0.5 - utc_offset_h;
    Sky s = split_W_m2(std::max(0.0, value(global, -5.0, 1500.0, 0.0)),
                       sun_position({julian_day_of(day, utc_h)}, place).zenith_deg,
                       base::day_of_year(day));
    s.diffuse = std::max(0.0, value(diffuse, -5.0, 1000.0, s.diffuse));
    s.beam = std::max(0.0, value(beam, -5.0, 1500.0, s.beam));
    w.sky.push_back(s);
    w.air_C.push_back(value(air, -70.0, 60.0, 10.0));
  }
  if (w.sky.size() != 8760 && w.sky.size() != 8784)
    throw InputError({file, 0, 0}, fmt::format("{} hours", w.sky.size()), "8760 hours, or 8784",
                     "give one whole year, from the first of January on");
  if (const base::CivilDay first = base::civil_day(w.first_day); first.month != 1 || first.day != 1)
    throw InputError({file, 2, 0},
                     fmt::format("a year that begins on {}", base::day_text(w.first_day)),
                     "the first of January", "export the calendar year");
  return w;
}

}  // namespace site
