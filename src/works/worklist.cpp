// SPDX-License-Identifier: Apache-2.0
#include "works/worklist.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/calendar.hpp"
#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"

namespace works {
namespace {

using base::InputError;
using base::Json;
using commission::Reading;

std::optional<Expected> expected(Reading reading, const Project& p, const Plan& plan) {
  const double series = p.layout.series();
  const double high = p.cell.max.in(base::units::V), low = p.cell.min.in(base::units::V);
  const auto figure = [&](std::string_view path, double otherwise) {
    const Named* n = find_figure(plan, path);
    return n != nullptr ? n->figure.value : otherwise;
  };
  switch (reading) {
    case Reading::none:
      return std::nullopt;
    case Reading::supply_open_V:
      return Expected{3.55, high, "V", "3.60 V, at most the cell's limit"};
    case Reading::between_cells_mV:
      return Expected{0.0, 50.0, "mV", "common practice, no source"};
    case Reading::spread_at_top_mV:
      return Expected{0.0, 5.0, "mV", "common practice, no source; rested above 3.40 V"};
    case Reading::pack_V:
      return Expected{series * low, series * high, "V",
                      fmt::format("{:g} groups in series, plus against minus", series)};
    case Reading::pack_difference_mV:
      return Expected{0.0, figure("wire.joining_mV", 100.0), "mV", "wire.joining_mV"};
    case Reading::precharge_left_V:
      return Expected{0.0, 1.0, "V", "common practice, no source"};
    case Reading::trip_high_V:
      // Its limit is moved to the cell's present voltage, never the cell to the limit.
      return Expected{3.30, p.bms.cell_high.in(base::units::V), "V",
                      "the highest cell as it stood, never above the trip"};
    case Reading::trip_low_V:
      return Expected{p.bms.cell_low.in(base::units::V), 3.40, "V",
                      "the lowest cell as it stood, never below the trip"};
    case Reading::trip_cold_C:
      return Expected{p.bms.charge_stop.in_C(), 45.0, "°C",
                      "the cells as warm as they were, never below the stop"};
    case Reading::capacity_Ah: {
      const double Ah = figure("commission.usable_Ah", 0.0);
      if (Ah <= 0.0) return std::nullopt;
      return Expected{0.95 * Ah, 1.10 * Ah, "Ah", "what the twin delivers, less a twentieth"};
    }
    case Reading::round_trip_percent:
      return Expected{75.0, 100.0, "%", "common practice, no source"};
    case Reading::standby_W:
      return Expected{0.0, 200.0, "W", "common practice, no source"};
    case Reading::warmest_joint_K:
      return Expected{0.0, 20.0, "K", "above the air; common practice, no source"};
  }
  return std::nullopt;
}

/// The findings that hold a step, each once.
std::vector<findings::Id> holding(const commission::Held& held, std::optional<int> pack,
                                  const Plan& plan) {
  std::vector<findings::Id> ids;
  for (const findings::Finding& f : plan.findings) {
    // Named ones hold already as a caution.
    if (f.severity == findings::Severity::note ||
        (held.any_stop && f.severity != findings::Severity::stop))
      continue;
    if (!held.any_stop && std::find(held.ids.begin(), held.ids.end(), f.id) == held.ids.end())
      continue;
    // One pack's joints and sense leads hold no other pack's steps.
    const bool other = pack && !held.any_stop && f.pack && *f.pack != *pack;
    if (!other && std::find(ids.begin(), ids.end(), f.id) == ids.end()) ids.push_back(f.id);
  }
  return ids;
}

/// The text with this bank's amperes.
std::string filled(std::string_view text, const Project& p) {
  const double cell_Ah = p.cell.rated_capacity.in(base::units::Ah),
               pack_Ah = cell_Ah * p.layout.parallel(), packs = p.layout.packs();
  std::string result(text);
  const auto put = [&](std::string_view key, double amps) {
    if (const std::size_t at = result.find(key); at != std::string::npos)
      result.replace(at, key.size(), base::significant(amps, 2) + " A");
  };
  put("{fifth}", 0.2 * pack_Ah);
  put("{tenth}", 0.1 * pack_Ah * packs);
  put("{tail}", 0.02 * cell_Ah);
  return result;
}

/// Steps that had to be signed before this one and are not; of each pack where they are each
/// pack's.
std::vector<std::string> unsigned_before(std::string_view after, const std::string& pack,
                                         const Project& p) {
  std::vector<std::string> missing;
  const int packs = p.layout.packs();
  const auto signed_ = [&](const std::string& id) {
    return std::any_of(p.signatures.begin(), p.signatures.end(),
                       [&](const Signature& s) { return s.what == id; });
  };
  while (!after.empty()) {
    const std::size_t end = std::min(after.find(' '), after.size());
    const std::string id(after.substr(0, end));
    after.remove_prefix(std::min(end + 1, after.size()));
    bool each = false;
    for (const commission::Checklist& list : commission::checklists())
      for (const commission::CheckStep& step : list.steps)
        each = each || (step.id == id && list.each_pack);
    if (!each) {
      if (!signed_(id)) missing.push_back(id);
      continue;
    }
    for (int k = 0; k < packs; ++k) {
      const std::string name = layout::pack_name(k);
      if ((pack.empty() || pack == name) && !signed_(id + "@" + name))
        missing.push_back(id + "@" + name);
    }
  }
  return missing;
}

WorkStep step_of(const commission::CheckStep& step, std::optional<int> pack_number,
                 const Project& p, const Plan& plan) {
  const std::string pack = pack_number ? layout::pack_name(*pack_number) : "";
  WorkStep w;
  w.step = &step;
  w.pack = pack;
  w.id = std::string(step.id) + (pack.empty() ? "" : "@" + pack);
  w.expected = expected(step.reading, p, plan);
  w.text = filled(step.text, p);
  if (!step.held_by.nothing()) w.held_by = holding(step.held_by, pack_number, plan);
  w.waits_for = unsigned_before(step.after, pack, p);
  // The one of the latest day counts, of one day the last; the others stay to be seen.
  for (const Signature& s : p.signatures) {
    if (s.what != w.id) continue;
    if (w.record && s.on < w.record->on) {
      w.earlier.push_back(s);
      continue;
    }
    if (w.record) w.earlier.push_back(*w.record);
    w.record = s;
  }
  const bool outside = w.record && w.record->value && w.expected &&
                       (*w.record->value < w.expected->low || *w.record->value > w.expected->high);
  const bool held = !w.held_by.empty() || !w.waits_for.empty();
  const bool against = outside || held, reason = w.record && !base::trimmed(w.record->note).empty(),
             lacks = w.record && ((w.expected && !w.record->value) || (step.needs_note && !reason));
  if (w.record && !lacks && (!against || reason))
    w.state = against ? WorkStep::State::done_over : WorkStep::State::done;
  else if (held)
    w.state = WorkStep::State::held;
  return w;
}

}  // namespace

std::string_view name(WorkStep::State state) {
  switch (state) {
    case WorkStep::State::open:
      return "open";
    case WorkStep::State::held:
      return "held";
    case WorkStep::State::done:
      return "signed";
    case WorkStep::State::done_over:
      return "signed with a reason";
  }
  return "";
}

std::vector<WorkList> work_lists(const Project& p, const Plan& plan) {
  std::vector<WorkList> lists;
  const int packs = p.layout.packs();
  for (const commission::Checklist& list : commission::checklists())
    for (int k = 0; k < (list.each_pack ? packs : 1); ++k) {
      WorkList w;
      w.list = &list;
      w.pack = list.each_pack ? layout::pack_name(k) : "";
      const std::string_view first = list.steps.front().id;
      w.id = std::string(first.substr(0, first.find('/'))) + (w.pack.empty() ? "" : "@" + w.pack);
      for (const commission::CheckStep& step : list.steps)
        if (packs > 1 || step.reading != Reading::pack_difference_mV)  // one pack is joined to none
          w.steps.push_back(
              step_of(step, list.each_pack ? std::optional(k) : std::nullopt, p, plan));
      lists.push_back(std::move(w));
    }
  return lists;
}

void sign(Project& p, const Plan& plan, const Signature& s) {
  const std::vector<WorkList> lists = work_lists(p, plan);
  const WorkStep* found = nullptr;
  for (const WorkList& list : lists)
    for (const WorkStep& step : list.steps)
      if (step.id == s.what) found = &step;
  if (found == nullptr)
    throw InputError({}, fmt::format("no step '{}'", s.what),
                     "a step such as first-power/polarity, with @A behind it where it is pack A's",
                     "see them all: packhouse checklist FILE");
  const bool noted = !base::trimmed(s.note).empty();
  if (base::trimmed(s.by).empty())
    throw InputError({}, "nobody's name", "who did it", "say it with --by");
  if (s.value && !std::isfinite(*s.value))
    throw InputError({}, "a reading that is no number", "a finite number", "read the meter again");
  if (const auto day = base::day_of(s.on); !day || *day < *base::day_of("2000-01-01"))
    throw InputError({}, fmt::format("'{}' as a day", s.on), "a day such as 2026-11-26",
                     "write year, month and day");
  if (found->expected && !s.value)
    throw InputError({}, fmt::format("no reading for {}", s.what),
                     fmt::format("{:g} to {:g} {}", found->expected->low, found->expected->high,
                                 found->expected->unit),
                     "read the meter, and say it with --value");
  if (s.value && found->step->reading == Reading::none)
    throw InputError({}, fmt::format("a reading of {:g} for {}", *s.value, s.what),
                     "a step that asks for none", "leave it out, or say it with --note");
  if (found->step->needs_note && !noted)
    throw InputError({}, fmt::format("no note for {}", s.what),
                     "what opened or was measured how, and after how long", "say it with --note");
  const bool outside = s.value && found->expected &&
                       (*s.value < found->expected->low || *s.value > found->expected->high);
  if (outside && !noted)
    throw InputError({}, fmt::format("{:g} {} for {}", *s.value, found->expected->unit, s.what),
                     fmt::format("{:g} to {:g} {}: {}", found->expected->low, found->expected->high,
                                 found->expected->unit, found->expected->from),
                     "mend it and read again; or say with --note why it is signed all the same");
  if (const std::vector<std::string> held = held_in_words(*found); !held.empty() && !noted) {
    throw InputError({}, fmt::format("{} held: {}", s.what, fmt::join(held, "; ")),
                     "findings at stop mended (packhouse check FILE), steps before it signed",
                     "do these first; or say with --note why it is signed all the same");
  }
  p.signatures.push_back(s);
}

std::vector<std::string> held_in_words(const WorkStep& step) {
  std::vector<std::string> list;
  for (const findings::Id id : step.held_by) list.emplace_back(findings::row(id).says);
  for (const std::string& id : step.waits_for) list.push_back(fmt::format("{} is not signed", id));
  return list;
}

Json to_json(const std::vector<WorkList>& lists) {
  Json json = Json::array();
  for (const WorkList& list : lists) {
    Json steps = Json::array();
    for (const WorkStep& w : list.steps) {
      Json one = {{"id", w.id},
                  {"text", w.text},
                  {"state", name(w.state)},
                  {"needs_note", w.step->needs_note},
                  {"held_by", held_in_words(w)}};
      one["expected"] = w.expected ? Json{{"low", w.expected->low},
                                          {"high", w.expected->high},
                                          {"unit", w.expected->unit},
                                          {"from", w.expected->from}}
                                   : Json(nullptr);
      one["signed_before"] = w.earlier.size();
      one["record"] = nullptr;
      if (w.record)
        one["record"] = {{"by", w.record->by},
                         {"on", w.record->on},
                         {"value", w.record->value ? Json(*w.record->value) : Json(nullptr)},
                         {"note", w.record->note}};
      steps.push_back(std::move(one));
    }
    json.push_back({{"id", list.id},
                    {"title", list.list->title},
                    {"when", list.list->when},
                    {"pack", list.pack},
                    {"steps", std::move(steps)}});
  }
  return json;
}

std::optional<std::string> doubt_about_today(const Project& project, const std::string& today) {
  constexpr long long_after_days = 400;
  const auto now = base::day_of(today);
  if (!now || *now < *base::day_of("2025-01-01")) return fmt::format("a clock that says {}", today);
  std::optional<long> last;
  for (const Signature& s : project.signatures)
    if (const auto day = base::day_of(s.on); day && (!last || *day > *last)) last = day;
  if (!last) return std::nullopt;
  if (*now < *last)
    return fmt::format("a clock that says {}, before the last signature of {}", today,
                       base::day_text(*last));
  if (*now > *last + long_after_days)
    return fmt::format("a clock that says {}, {} days after the last signature", today,
                       *now - *last);
  return std::nullopt;
}

}  // namespace works
