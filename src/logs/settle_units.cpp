// SPDX-License-Identifier: Apache-2.0
// Units that no header names, and units that a header names wrongly: what a cell can do, and the
// tester's own counter, decide; two readings are a question.
#include <algorithm>
#include <cmath>
#include <span>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/statistics.hpp"
#include "logs/settle.hpp"

namespace logs {
namespace {

constexpr double several_cells_V = 5.5, other_chemistry_V = 3.75;
constexpr double highest_rate_per_h = 15.0;        // no cell is emptied or filled faster at a bench
constexpr double longest_log_s = 1000.0 * 3600.0;  // of one test whose unit nobody says
constexpr double longest_swing_s = 200.0 * 3600.0;  // nor slower, at a steady current

/// What the rows show in the units of the file: all of it scales with the units.
struct Shape {
  double charge = 0.0;       ///< of the longest run one way, current times time
  double throughput = 0.0;   ///< of all runs
  double ohm = 0.0;          ///< volts over current, median of the steps; zero: none seen
  double top = 0.0;          ///< largest current
  double seconds = 0.0;      ///< length of the log
  bool full_swing = false;   ///< from below the lower knee to above the plateau, or back
  double swing_run_s = 0.0;  ///< length of a run at a steady current that goes so far; zero: none
};

Shape shape_of(const RawRows& rows, double volts) {
  Shape s;
  s.top = usual_top(rows.current);
  double run = 0.0, lowest = 1e9, highest = -1e9;
  double run_s = 0.0, run_low = 1e9, run_high = -1e9, run_least = 1e9, run_most = 0.0;
  std::vector<double> steps;
  for (std::size_t k = 1; k < rows.size(); ++k)
    if (rows.time[k] > rows.time[k - 1]) steps.push_back(rows.time[k] - rows.time[k - 1]);
  const double longest = steps.empty() ? 0.0 : 100.0 * base::median(steps);  // a glitch is longer
  std::vector<double> ohms;
  for (std::size_t k = 0; k < rows.size(); ++k) {
    const double v = rows.voltage[k] * volts;
    if (v < 1.0 || v > 4.5) continue;
    lowest = std::min(lowest, v);
    highest = std::max(highest, v);
    if (k == 0) continue;
    const double a = rows.current[k - 1], b = rows.current[k];
    if (std::abs(b) > 10.0 * s.top || std::abs(a) > 10.0 * s.top) continue;
    const double raw_dt = rows.time[k] - rows.time[k - 1];
    const double dt = raw_dt > 0.0 && raw_dt <= longest ? raw_dt : 0.0;
    if (a * b < 0.0 || std::abs(b) < 0.01 * s.top)
      run = run_s = 0.0, run_low = run_least = 1e9, run_high = -1e9, run_most = 0.0;
    run_s += dt;
    run_low = std::min(run_low, v);
    run_high = std::max(run_high, v);
    if (std::abs(b) >= 0.01 * s.top) run_least = std::min(run_least, std::abs(b));
    run_most = std::max(run_most, std::abs(b));
    if (run_low < 3.0 && run_high > 3.3 && run_most < 1.1 * run_least && run_s > s.swing_run_s)
      s.swing_run_s = run_s;
    const double part = 0.5 * (std::abs(a) + std::abs(b)) * dt;
    run += part;
    s.throughput += part;
    s.charge = std::max(s.charge, run);
    const double before_V = rows.voltage[k - 1] * volts;
    if (std::abs(b - a) > 0.2 * s.top && before_V > 1.0 && before_V < 4.5 && v != before_V)
      ohms.push_back(std::abs((v - before_V) / (b - a)));
    s.seconds += dt;
  }
  s.full_swing = lowest < 3.0 && highest > 3.3;
  if (!ohms.empty()) s.ohm = base::median(ohms);
  return s;
}

/// Capacity, resistance and their product within what cells of 0.5 to 2000 Ah show. Rough on
/// purpose.
bool a_cell_could(const Shape& s, double seconds, double amps) {
  const double capacity_Ah = s.charge * seconds * amps / 3600.0;
  if (capacity_Ah > 2000.0) return false;
  if (s.full_swing && capacity_Ah < 0.5) return false;
  if (s.swing_run_s * seconds > longest_swing_s || s.seconds * seconds > longest_log_s)
    return false;
  if (s.swing_run_s > 0.0 && s.swing_run_s * seconds < 3600.0 / highest_rate_per_h) return false;
  if (s.ohm > 0.0) {
    const double ohm = s.ohm / amps;
    if (ohm < 20e-6 || ohm > 0.2) return false;
    const double product_mOhm_Ah =
        ohm * 1e3 * capacity_Ah;  // 10…400 for LFP cells of any size; two-wire leads add to it
    if (s.full_swing && (product_mOhm_Ah < 8.0 || product_mOhm_Ah > 4000.0)) return false;
  }
  return true;
}

struct Unit {
  double scale;
  std::string_view name;
};
constexpr Unit time_units[] = {{1.0, "s"}, {60.0, "min"}, {3600.0, "h"}, {1e-3, "ms"}};
constexpr Unit clock_units[] = {{1.0, "h:mm"}, {1.0 / 60.0, "mm:ss"}};
constexpr Unit current_units[] = {{1.0, "A"}, {1e-3, "mA"}};

std::string reading(const Shape& s, const Unit& time, const Unit& current) {
  return fmt::format(
      "time in {}, current in {}: the log lasts {:.3g} h and its longest run moves "
      "{:.4g} Ah",
      time.name, current.name, s.seconds * time.scale / 3600.0,
      s.charge * time.scale * current.scale / 3600.0);
}

}  // namespace

/// Voltages at which no single cell of this chemistry stands: several in series, or others.
void Settler::refuse_other_cells(const RawRows& rows, double middle_V) const {
  const base::InputError::Place place{"", rows.line.front(), roles_.voltage.index + 1};
  const std::string there =
      fmt::format("'{}' stands at {:.4g} V", header(roles_.voltage), middle_V);
  if (middle_V > several_cells_V && middle_V < 500.0)
    throw base::InputError(
        place,
        fmt::format("{}: about {:.0f} cells in series, so the record of a bank", there,
                    middle_V / 3.3),
        "a tester's log of one cell",
        "look at it under Watch; a test of one cell needs that cell's own voltage");
  if (middle_V > other_chemistry_V && middle_V < several_cells_V)
    throw base::InputError(
        place,
        fmt::format("{} for half of the log: another chemistry than lithium iron "
                    "phosphate, which rests below 3.4 V",
                    there),
        "the log of a lithium iron phosphate cell",
        "do not build with it by these rules: its limits are others");
}

std::optional<Question> Settler::decide_units(const RawRows& rows) {
  auto& v = roles_.voltage;
  auto& i = roles_.current;
  auto& t = roles_.time;
  const double middle = base::median(rows.voltage) * (v.unit_known ? v.field.scale : 1.0);
  refuse_other_cells(rows, middle > 500.0 ? middle * 1e-3 : middle);
  if (!v.unit_known) {
    v.field.unit = middle > 500.0 ? "mV" : "V";
    v.field.scale = middle > 500.0 ? 1e-3 : 1.0;
  } else if (middle > 500.0 && v.field.unit == "V") {
    return Question{fmt::format("'{}' says V and holds {:g}", header(v), middle),
                    {"the column is in mV", "the column is in V (no cell has such a voltage)"},
                    fmt::format("--columns 'voltage={}[mV]'", header(v)),
                    {fmt::format("columns=voltage={}[mV]", header(v)),
                     fmt::format("columns=voltage={}[V]", header(v))}};
  } else if (middle < 0.006 && middle > 0.001 && v.field.unit == "mV") {
    return Question{fmt::format("'{}' says mV and holds {:g}", header(v), middle / v.field.scale),
                    {"the column is in V", "the column is in mV (no cell has such a voltage)"},
                    fmt::format("--columns 'voltage={}[V]'", header(v)),
                    {fmt::format("columns=voltage={}[V]", header(v)),
                     fmt::format("columns=voltage={}[mV]", header(v))}};
  }
  if (time_kind_ == TimeKind::number && !t.unit_known) {
    if (rows.time.front() > 1e14)
      t.field.unit = "us", t.field.scale = 1e-6, t.unit_known = true;  // since 1970
    else if (rows.time.front() > 1e11)
      t.field.unit = "ms", t.field.scale = 1e-3, t.unit_known = true;  // since 1970
    else if (rows.time.front() > 1e8)
      t.field.unit = "s", t.field.scale = 1.0, t.unit_known = true;
    else if (rows.time.front() > 20000.0 && rows.time.back() < 80000.0 &&
             rows.time.back() - rows.time.front() < 100.0 &&
             rows.time.front() != std::floor(rows.time.front()))
      t.field.unit = "d", t.field.scale = 86400.0, t.unit_known = true;  // a spreadsheet's days
  }
  const Shape shape = shape_of(rows, v.field.scale);
  // "12:34" may be hours and minutes or minutes and seconds.
  const std::string& first_time = layout_.first_row.at(t.index);
  const bool clock_open = time_kind_ == TimeKind::clock && !t.unit_known &&
                          std::count(first_time.begin(), first_time.end(), ':') == 1 &&
                          header(t).find("mm") == std::string::npos;
  const bool time_open = (time_kind_ == TimeKind::number && !t.unit_known) || clock_open;
  const bool current_open = !i.unit_known;
  const Unit stated_time{time_kind_ == TimeKind::number ? t.field.scale : 1.0,
                         time_kind_ == TimeKind::number ? std::string_view(t.field.unit) : "s"};
  const Unit stated_current{i.field.scale, i.field.unit};

  // The tester's own counter, where its unit is known, weighs more than anything else.
  double counter_Ah = 0.0;
  if (!rows.counter.empty() && roles_.capacity && roles_.capacity->unit_known)
    counter_Ah = (rows.counter.back() - rows.counter.front()) * roles_.capacity->field.scale;
  const auto counter_agrees = [&](const Unit& time, const Unit& current, double within) {
    const double ours = shape.throughput * time.scale * current.scale / 3600.0;
    return counter_Ah > 0.0 && std::abs(ours / counter_Ah - 1.0) < within;
  };

  struct Reading {
    Unit time, current;
  };
  std::vector<Reading> all, possible;
  const auto try_all = [&](bool every_time, bool every_current) {
    const std::span<const Unit> times =
        clock_open ? std::span<const Unit>(clock_units) : std::span<const Unit>(time_units);
    for (const Unit& time : times) {
      if (!every_time && &time != &times[0]) break;
      for (const Unit& current : current_units) {
        if (!every_current && &current != &current_units[0]) break;
        all.push_back({every_time ? time : stated_time, every_current ? current : stated_current});
      }
    }
    for (const Reading& r : all)
      if (counter_agrees(r.time, r.current, 0.1)) possible.push_back(r);
    if (possible.empty())
      for (const Reading& r : all)
        if (a_cell_could(shape, r.time.scale, r.current.scale)) possible.push_back(r);
  };
  const auto ask = [&](std::string about) {
    Question q{std::move(about), {}, ""};
    for (const Reading& r : possible.empty() ? all : possible) {
      q.readings.push_back(reading(shape, r.time, r.current));
      q.answers.push_back(time_kind_ == TimeKind::number || clock_open
                              ? fmt::format("columns=time={}[{}]; current={}[{}]", header(t),
                                            r.time.name, header(i), r.current.name)
                              : fmt::format("columns=current={}[{}]", header(i), r.current.name));
    }
    const Reading& first = possible.empty() ? all.front() : possible.front();
    q.option = time_kind_ == TimeKind::number || clock_open
                   ? fmt::format("--columns 'time={}[{}],current={}[{}]'", header(t),
                                 first.time.name, header(i), first.current.name)
                   : fmt::format("--columns 'current={}[{}]'", header(i), first.current.name);
    return q;
  };

  if (time_open || current_open) {
    try_all(time_open, current_open);
    if (possible.size() != 1) return ask("units that the header does not name");
    if (time_open)
      t.field.unit = possible.front().time.name, t.field.scale = possible.front().time.scale;
    if (current_open)
      i.field.unit = possible.front().current.name, i.field.scale = possible.front().current.scale;
    note(findings::Id::unit_inferred,
         fmt::format("The header names no unit; as {} and {} the readings are those of a cell, "
                     "as anything else they are not.",
                     time_kind_ == TimeKind::number ? std::string_view(t.field.unit) : "clock time",
                     i.field.unit),
         "header");
    return std::nullopt;
  }
  // Both are stated. Are they possible? What a person named by hand is not doubted.
  if (t.by_hand || i.by_hand || shape.charge <= 0.0) return std::nullopt;
  const bool by_counter = counter_Ah > 0.0 && !counter_agrees(stated_time, stated_current, 0.5);
  const double stated_Ah = shape.charge * stated_time.scale * stated_current.scale / 3600.0;
  const bool by_size = stated_Ah > 2000.0 || shape.top * stated_current.scale > 5000.0 ||
                       (shape.full_swing && stated_Ah < 0.5) ||
                       (shape.swing_run_s > 0.0 &&
                        shape.swing_run_s * stated_time.scale < 3600.0 / highest_rate_per_h);
  if (!by_counter && !by_size) return std::nullopt;
  try_all(time_kind_ == TimeKind::number && t.field.unit != "d", true);
  std::erase_if(possible, [&](const Reading& r) {
    return r.time.scale == stated_time.scale && r.current.scale == stated_current.scale;
  });
  if (by_counter && !by_size)
    std::erase_if(possible,
                  [&](const Reading& r) { return !counter_agrees(r.time, r.current, 0.05); });
  if (possible.empty()) {
    note(findings::Id::no_such_cell,
         fmt::format("As the headers say, time in {} and current in {}, one run moves {:.4g} Ah at "
                     "{:.4g} A.",
                     stated_time.name, stated_current.name, stated_Ah,
                     shape.top * stated_current.scale),
         "header", findings::Severity::caution,
         "Check the units; no cell of this trade is like that.");
    return std::nullopt;
  }
  possible.insert(possible.begin() + 1, {stated_time, stated_current});
  return ask(by_counter
                 ? fmt::format("the tester's own counter says {:.4g} Ah, and the columns as "
                               "their headers have them say {:.4g} Ah",
                               counter_Ah,
                               shape.throughput * stated_time.scale * stated_current.scale / 3600.0)
                 : fmt::format("as the headers say, time in {} and current in {}, this is "
                               "no cell: {:.4g} Ah in one run",
                               stated_time.name, stated_current.name, stated_Ah));
}

}  // namespace logs
