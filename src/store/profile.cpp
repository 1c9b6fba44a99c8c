// SPDX-License-Identifier: Apache-2.0
#include "store/profile.hpp"

#include <cmath>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/input_error.hpp"

namespace store {
using base::CsvTable;
using base::InputError;

bank::Profile read_profile(std::string_view bytes, const std::string& file,
                           std::vector<findings::Finding>& findings) {
  const CsvTable table(bytes, file);
  const std::size_t time = table.must_have({"time_s"});
  const auto power = table.column({"power_W"}), current = table.column({"current_A"}),
             room = table.column({"room_C"});
  if (power.has_value() == current.has_value())
    throw InputError({file, 1, 0},
                     power ? "both power_W and current_A" : "neither power_W nor current_A",
                     "time_s and one of power_W, current_A (discharge positive)",
                     power ? "take one of the two out" : "name the column that says what is asked");
  bank::Profile profile;
  profile.kind = power ? bank::Demand::Kind::power : bank::Demand::Kind::current;
  const std::size_t value = power ? *power : *current;
  double longest = 0.0;
  std::size_t longest_line = 0;
  for (const CsvTable::Row& row : table.rows()) {
    const auto t = table.number(row, time), v = table.number(row, value);
    if (!t)
      table.refuse(row, time, "no time", "seconds from the start",
                   "write the time, or take the row out");
    if (!v)
      table.refuse(row, value, "no value", "a number; 0 for a rest",
                   "fill the gap: what is asked until the next row is not guessed");
    if (!profile.rows.empty() && !(*t > profile.rows.back().time_s))
      table.refuse(row, time, fmt::format("{:g} s after {:g} s", *t, profile.rows.back().time_s),
                   "times that ascend", "sort the rows, and keep one for each time");
    if (!(std::abs(*v) <= 1e9) || !(std::abs(*t) <= 1e10))
      table.refuse(row, value, fmt::format("{:g} at {:g} s", *v, *t), "a value of this world",
                   "correct the unit");
    if (!profile.rows.empty() && *t - profile.rows.back().time_s > longest)
      longest = *t - profile.rows.back().time_s, longest_line = row.line;
    const auto C = room ? table.number(row, *room) : std::nullopt;
    if (C && !(*C >= -40.0 && *C <= 80.0))
      table.refuse(row, *room, fmt::format("{:g}", *C), "a room of -40 to 80 °C",
                   "correct the value, or leave it empty where the room stays as it was");
    profile.rows.push_back({*t, *v, C});
  }
  if (profile.rows.size() < 2)
    throw InputError({file, 0, 0}, fmt::format("{} rows", profile.rows.size()),
                     "at least two: a start, and when it ends",
                     "add a last row with the end's time");
  const double whole = profile.rows.back().time_s - profile.rows.front().time_s;
  if (const double usual = whole / double(profile.rows.size() - 1);
      profile.rows.size() > 10 && longest > 10.0 * usual)
    findings.push_back({.id = findings::Id::profile_gap,
                        .severity = findings::Severity::caution,
                        .what = "One value is held far longer than the others.",
                        .where = fmt::format("{}, line {}", file, longest_line),
                        .measured = fmt::format("{:g} s", longest),
                        .limit = fmt::format("{:g} s on average", usual),
                        .why = "A gap in a recording looks like this.",
                        .remedy = "Fill the gap, or write a row of 0 where nothing was asked."});
  return profile;
}

}  // namespace store
