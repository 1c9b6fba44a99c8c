// SPDX-License-Identifier: Apache-2.0
#include "bench/queue.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"

namespace bench {
namespace {

/// The next hour, at or after `h`, at which somebody is there for `needed_h`.
double attended_from(double h, double needed_h, const QueueRules& rules) {
  const double day = std::floor(h / 24.0) * 24.0, of_day = h - day;
  if (of_day < rules.attended_from_h) return day + rules.attended_from_h;
  if (of_day + needed_h <= rules.attended_to_h + 1e-9) return h;
  return day + 24.0 + rules.attended_from_h;
}

/// When a step of `length_h` that begins at `h` ends. Where nothing may run unattended it is done
/// in the attended hours only: cut at night and gone on with in the morning.
double run(double& begins_h, double length_h, const QueueRules& rules) {
  if (rules.runs_unattended) return begins_h + length_h;
  const double day_h = rules.attended_to_h - rules.attended_from_h;
  // A step that fits into a day is not cut: it waits for the morning.
  begins_h = length_h <= day_h ? attended_from(begins_h, length_h, rules)
                               : attended_from(begins_h, std::min(1.0, day_h), rules);
  double at = begins_h, left = length_h;
  while (left > 1e-9) {
    const double midnight = std::floor(at / 24.0) * 24.0;
    const double until = midnight + rules.attended_to_h;
    const double part = std::min(left, until - at);
    at += part;
    left -= part;
    if (left > 1e-9) at = midnight + 24.0 + rules.attended_from_h;
  }
  return at;
}

struct Bench {
  const QueueTester* tester = nullptr;
  double free_h = 0.0;
  std::string last_label = {};  ///< whose discharge may charge the next
  double last_discharge_h = 0.0, last_empty_h = 0.0, passed_Ah = 0.0;
};

QueueSlot place(const QueueTask& task, const Bench& bench, const QueueRules& rules) {
  const QueueTester& t = *bench.tester;
  QueueSlot slot{.label = task.label, .tester = t.name};
  double from_h = attended_from(bench.free_h, rules.handling_h, rules);
  const double missing_Ah = std::max(0.0, 1.0 - task.start_charge) * task.capacity_Ah;
  double charge_Ah = missing_Ah;
  if (rules.passes_charge_on && bench.passed_Ah > 0.0) {
    // It was charged while the cell before it was discharged; what that gave is not charged again.
    charge_Ah = std::max(0.0, missing_Ah - bench.passed_Ah);
    slot.charged_from = bench.last_label;
  }
  slot.start_h = from_h;
  double begins = from_h + rules.handling_h;
  slot.full_h = run(begins, charge_Ah / t.charge_A + rules.taper_h, rules);
  begins = slot.full_h + rules.rest_h;  // a rest may be at night
  slot.empty_h = run(begins, task.capacity_Ah / t.discharge_A, rules);
  slot.discharge_h = begins;
  begins = slot.empty_h + rules.settle_h;
  slot.end_h = run(begins, rules.storage_charge * task.capacity_Ah / t.charge_A, rules);
  slot.end_charge = rules.storage_charge;
  return slot;
}

}  // namespace

std::vector<QueueTester> read_testers(std::string_view text) {
  const auto amps_of = [](std::string_view part) -> std::optional<double> {
    part = base::trimmed(part);
    if (!part.empty() && (part.back() == 'A' || part.back() == 'a'))
      part = base::trimmed(part.substr(0, part.size() - 1));
    const auto value = base::parse_number(part);
    if (!value || !(*value > 0.0) || *value > 5000.0) return std::nullopt;
    return value;
  };
  std::vector<QueueTester> testers;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t end = std::min(text.find_first_of(",;", from), text.size());
    const std::string_view part = base::trimmed(text.substr(from, end - from));
    from = end + 1;
    const std::size_t slash = part.find('/');
    const auto charge = amps_of(part.substr(0, slash));
    const auto discharge =
        slash == std::string_view::npos ? charge : amps_of(part.substr(slash + 1));
    if (!charge || !discharge)
      throw base::InputError(
          {"", 0, 0}, fmt::format("'{}' as a tester's currents", part),
          "charge and discharge current in amperes, above nothing, such as 50/50",
          "write one pair a tester: 50/50, 20/40");
    testers.push_back({std::to_string(testers.size() + 1), *charge, *discharge});
  }
  return testers;
}

std::string day_and_clock(double hours) {
  const auto minutes = static_cast<long>(std::llround(hours * 60.0));
  return fmt::format("day {} {:02d}:{:02d}", minutes / 1440 + 1, minutes / 60 % 24, minutes % 60);
}

Queue plan_queue(const std::vector<QueueTask>& tasks, const std::vector<QueueTester>& testers,
                 const QueueRules& rules) {
  Queue queue;
  if (tasks.empty() || testers.empty()) return queue;
  for (const QueueTester& t : testers) CHECK(t.charge_A > 0.0 && t.discharge_A > 0.0);
  CHECK(rules.attended_to_h > rules.attended_from_h + rules.handling_h);
  std::vector<const QueueTask*> order;
  for (const QueueTask& t : tasks) order.push_back(&t);
  std::stable_partition(order.begin(), order.end(), [](const QueueTask* t) { return t->suspect; });
  std::vector<Bench> benches;
  for (const QueueTester& t : testers)
    benches.push_back({.tester = &t, .free_h = rules.attended_from_h});
  double busy_h = 0.0;
  for (const QueueTask* task : order) {
    Bench* best = nullptr;
    QueueSlot best_slot;
    for (Bench& bench : benches) {
      QueueSlot slot = place(*task, bench, rules);
      if (best == nullptr || slot.end_h < best_slot.end_h)
        best = &bench, best_slot = std::move(slot);
    }
    best->free_h = best_slot.end_h;
    best->last_label = task->label;
    best->passed_Ah = rules.passes_charge_on ? task->capacity_Ah * rules.pass_efficiency : 0.0;
    busy_h += best_slot.end_h - best_slot.start_h;
    queue.attended_at_h.push_back(best_slot.start_h);
    queue.attended_h += rules.handling_h;
    queue.slots.push_back(std::move(best_slot));
  }
  std::sort(queue.attended_at_h.begin(), queue.attended_at_h.end());
  std::stable_sort(queue.slots.begin(), queue.slots.end(),
                   [](const QueueSlot& a, const QueueSlot& b) { return a.start_h < b.start_h; });
  double end_h = 0.0;
  for (const QueueSlot& s : queue.slots) end_h = std::max(end_h, s.end_h);
  queue.days = (end_h - rules.attended_from_h) / 24.0;
  queue.hours_a_cell = busy_h / double(queue.slots.size());
  if (!rules.runs_unattended)  // current flows only while somebody is there: all of it counts
    queue.attended_h = 0.0;
  if (!rules.runs_unattended) {
    // Hours of the day in which any tester's current flows, day by day.
    for (int day = 0; day < static_cast<int>(std::ceil(end_h / 24.0)); ++day) {
      double first = 1e9, last = 0.0;
      for (const QueueSlot& s : queue.slots) {
        const double from = std::max(s.start_h, day * 24.0 + rules.attended_from_h),
                     to = std::min(s.end_h, day * 24.0 + rules.attended_to_h);
        if (to <= from) continue;
        first = std::min(first, from);
        last = std::max(last, to);
      }
      if (last > first) queue.attended_h += last - first;
    }
  }
  return queue;
}

}  // namespace bench
