// SPDX-License-Identifier: Apache-2.0
#include "site/series.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/csv_table.hpp"
#include "base/input_error.hpp"
#include "site/stamps.hpp"

namespace site {

using base::CsvTable;
using base::InputError;

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
