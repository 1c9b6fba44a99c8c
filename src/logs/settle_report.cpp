// SPDX-License-Identifier: Apache-2.0
// What the reader has to say of a log: gaps, clocks, rows left out, the tester's own counter.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "logs/settle.hpp"

namespace logs {
namespace {

using findings::Severity;

std::string plural(std::size_t n) { return n == 1 ? "" : "s"; }

}  // namespace

void Settler::report() {
  report_clock();
  report_gaps();
  report_left_out();
  report_counter();
  report_resolution();
}

void Settler::report_gaps() {
  struct Sum {
    std::size_t count = 0;
    double total_s = 0.0, widest_s = 0.0, charge_Ah = 0.0;
  } flowing, resting;
  std::size_t counted = 0;
  for (const Gap& gap : log_.gaps) {
    Sum& sum = gap.flowing ? flowing : resting;
    counted += gap.flowing && gap.counted;
    ++sum.count;
    sum.total_s += gap.end_s - gap.start_s;
    sum.widest_s = std::max(sum.widest_s, gap.end_s - gap.start_s);
    sum.charge_Ah += gap.doubtful_Ah;
  }
  const double length_s = std::max(log_.time_s.back() - log_.time_s.front(), 1e-9);
  const auto say = [&](const Sum& sum, std::size_t line, findings::Id id, std::string_view when,
                       const std::string& across, Severity severity, std::string remedy) {
    note(
        std::move(id),
        fmt::format("{} gap{} {}, {:.1f} s in all ({:.1f} % of the log), the longest {:.1f} s; {}.",
                    sum.count, plural(sum.count), when, sum.total_s, 100.0 * sum.total_s / length_s,
                    sum.widest_s, across),
        fmt::format("line {}", line), severity, std::move(remedy));
  };
  if (flowing.count > 0)
    say(flowing, gap_line_, findings::Id::gap, "while a current flowed",
        counted == flowing.count
            ? std::string("the charge across is what the tester's own counter moved")
            : fmt::format("the charge across, {:.4g} Ah, is a straight line", flowing.charge_Ah),
        Severity::caution,
        "Trust the capacity only as far as the current is known to have been steady across "
        "the gap; else test again.");
  if (resting.count > 0 && resting.count <= 3)  // more is a tester that writes rest less often
    say(resting, rest_gap_line_, findings::Id::gap_at_rest,
        "at rest or where a current begins or ends", "whatever flowed meanwhile is not counted",
        Severity::note, "Make sure that nothing flowed meanwhile.");
}

void Settler::report_clock() {
  const Clock& c = clock_;
  if (c.restarts > 0)
    note(findings::Id::time_restarts,
         fmt::format("The time starts again {} time{}; joined with one usual interval between.",
                     c.restarts, plural(c.restarts)),
         fmt::format("line {}", c.restart_line));
  if (c.midnights > 0)
    note(findings::Id::clock_passes_midnight,
         fmt::format("The clock has no date and passes midnight {} time{}.", c.midnights,
                     plural(c.midnights)),
         "");
  if (c.hours_back > 0)
    note(
        findings::Id::clock_changes,
        fmt::format("The clock is set by an hour {} time{}, as between summer and winter time; the "
                    "log runs on without it.",
                    c.hours_back, plural(c.hours_back)),
        "", Severity::note, "Check it against the tester's own counter, where there is one.");
  if (c.jumps > 0)
    note(findings::Id::clock_jumps,
         fmt::format("The clock jumps back {} time{}; joined with one usual interval between.",
                     c.jumps, plural(c.jumps)),
         fmt::format("line {}", c.jump_line), Severity::caution,
         "What flowed at the jump is not known better than one interval's charge.");
  if (coarse_)
    note(findings::Id::coarse_stamps,
         "Many rows share a time stamp; they are spread evenly until the next stamp.", "");
}

void Settler::report_left_out() {
  log_.left_out = left_out_.take();
  if (log_.left_out.empty()) return;
  std::size_t twice = 0;
  for (const LeftOut& l : log_.left_out)
    if (l.reason == "written twice") twice = l.count;
  if (twice > 0)
    note(findings::Id::row_twice,
         fmt::format("{} row{} written twice; counted once.", twice, plural(twice)), "");
  const std::size_t rest = log_.rows_left_out() - twice;
  if (rest == 0) return;
  std::string reasons, lines;
  std::size_t listed = 0, kinds = 0;
  for (const LeftOut& l : log_.left_out) {
    if (l.reason == "written twice") continue;
    if (++kinds <= 4)
      reasons += fmt::format("{}{} × {}", reasons.empty() ? "" : "; ", l.count, l.reason);
    for (const std::size_t line : l.lines) {
      if (++listed > 12) break;
      lines += fmt::format("{}{}", listed == 1 ? "" : ", ", line);
    }
  }
  if (kinds > 4) reasons += fmt::format("; {} more kinds", kinds - 4);
  if (rest > 12) lines += ", …";
  note(findings::Id::rows_left_out,
       fmt::format("{} row{} left out ({:.2f} % of all): {}.", rest, plural(rest),
                   100.0 * double(rest) / double(log_.rows_left_out() + used_), reasons),
       "lines " + lines, Severity::caution, "Look at these lines in the log.");
}

void Settler::report_counter() {
  if (!counter_begun_ || !roles_.capacity || !roles_.capacity->unit_known) return;
  log_.counter_Ah = (counter_last_ - counter_first_) * roles_.capacity->field.scale;
  if (log_.counter_Ah <= 0.0) return;
  double ours = 0.0;
  for (const double part : log_.charge_As) ours += std::abs(part) / 3600.0;
  const double apart = ours / log_.counter_Ah - 1.0;
  if (std::abs(apart) < 0.01) return;
  note(findings::Id::counter_differs,
       fmt::format("The tester's own counter moved {:.4f} Ah; its currents and times make {:.4f} "
                   "Ah, {:+.2f} %.",
                   log_.counter_Ah, ours, 100.0 * apart),
       header(*roles_.capacity), std::abs(apart) > 0.05 ? Severity::caution : Severity::note,
       "The measures are those of currents and times. A counter that differs has another clock, "
       "another range, or sees faster changes than the log.");
}

void Settler::report_resolution() {
  const double top = usual_top(log_.current_A);
  std::size_t changes = 0;  // a supply that holds its setpoint shows no resolution
  for (std::size_t k = 1; k < log_.rows(); ++k)
    changes += log_.current_A[k] != log_.current_A[k - 1] &&
               std::abs(log_.current_A[k] - log_.current_A[k - 1]) < 0.1 * top;
  if (top > 0.0 && log_.current_step_A > 0.005 * top && changes > 20)
    note(findings::Id::coarse_current,
         fmt::format("The current is written in steps of {:.3g} A, {:.1f} % of its usual value.",
                     log_.current_step_A, 100.0 * log_.current_step_A / top),
         header(roles_.current));
  if (log_.voltage_step_V >= 0.005 && log_.voltage_step_V < 0.5)
    note(findings::Id::coarse_voltage,
         fmt::format("The voltage is written in steps of {:.0f} mV.", log_.voltage_step_V * 1e3),
         header(roles_.voltage));
}

void Settler::look_for_stuck_sensors() {
  const Stuck stuck = find_stuck(log_);
  const double length_s = std::max(log_.time_s.back() - log_.time_s.front(), 1e-9);
  const auto say = [&](double seconds, findings::Id id, std::string_view what, double at_s) {
    if (seconds <= 0.0) return;
    note(std::move(id),
         fmt::format("{} for {:.0f} s ({:.1f} % of the log).", what, seconds,
                     100.0 * seconds / length_s),
         fmt::format("{:.0f} s after the start", at_s), Severity::caution,
         "Do not trust what was measured meanwhile; look at the sensor's leads and test again.");
  };
  say(stuck.voltage_s, findings::Id::voltage_stuck,
      "The voltage keeps one value while the current steps", log_.time_s[stuck.voltage_row]);
  say(stuck.current_s, findings::Id::current_stuck,
      "The current keeps one value though the voltage lets go", log_.time_s[stuck.current_row]);
}

void Settler::list_columns() {
  const auto add = [&](const std::optional<Roles::Role>& role, std::string_view meaning) {
    if (role)
      log_.columns.push_back(
          {std::string(meaning), header(*role), role->field.unit, role->field.scale});
  };
  if (roles_.date) log_.columns.push_back({"date", header(*roles_.date), "", 1.0});
  add(roles_.time, "time");
  add(roles_.voltage, "voltage");
  add(roles_.current, "current");
  add(roles_.charge_current, "current");
  add(roles_.capacity, "capacity");
  add(roles_.charge_capacity, "capacity");
  add(roles_.energy, "energy");
  add(roles_.temperature, "temperature");
  add(roles_.state, "state");
}

}  // namespace logs
