// SPDX-License-Identifier: Apache-2.0
#include "works/worklist.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"

namespace works {
namespace {

using base::InputError;
using base::Json;
using commission::Reading;

std::optional<Expected> expected(Reading reading, const Project& p, const Plan& plan) {
  const double series = p.number("layout", "series");
  const double high = p.number("cell", "max_V"), low = p.number("cell", "min_V");
  const auto figure = [&](std::string_view path, double otherwise) {
    const Named* n = find_figure(plan, path);
    return n != nullptr ? n->figure.value : otherwise;
  };
  switch (reading) {
    case Reading::none:
      return std::nullopt;
    case Reading::supply_open_V:
      return Expected{3.40, high, "V", "above the flat part, at most the cell's limit"};
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
      return Expected{3.30, p.number("bms", "cell_high_V"), "V",
                      "the highest cell as it stood, never above the trip"};
    case Reading::trip_low_V:
      return Expected{p.number("bms", "cell_low_V"), 3.40, "V",
                      "the lowest cell as it stood, never below the trip"};
    case Reading::trip_cold_C:
      return Expected{p.number("bms", "charge_stop_C"), 45.0, "°C",
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

std::vector<std::string> holding(std::string_view held_by, const std::string& pack,
                                 const Plan& plan) {
  std::vector<std::string> ids;
  for (const base::Finding& f : plan.findings) {
    if (f.severity != base::Severity::stop) continue;
    const std::string padded = fmt::format(" {} ", held_by);
    if (held_by != "*" && padded.find(" " + f.id + " ") == std::string::npos) continue;
    // One pack's joints and sense leads hold no other pack's steps.
    const bool other = !pack.empty() && held_by != "*" &&
                       (f.id.starts_with("joint-") || f.id.starts_with("sense-")) &&
                       f.where.find(pack + "-") != 0 &&
                       f.where.find("pack " + pack + ",") == std::string::npos;
    if (!other && std::find(ids.begin(), ids.end(), f.id) == ids.end()) ids.push_back(f.id);
  }
  return ids;
}

WorkStep step_of(const commission::CheckStep& step, const std::string& pack, const Project& p,
                 const Plan& plan) {
  WorkStep w;
  w.step = &step;
  w.pack = pack;
  w.id = std::string(step.id) + (pack.empty() ? "" : "@" + pack);
  w.expected = expected(step.reading, p, plan);
  if (!step.held_by.empty()) w.held_by = holding(step.held_by, pack, plan);
  for (const Signature& s : p.signatures)
    if (s.what == w.id) w.record = s;
  const bool outside = w.record && w.record->value && w.expected &&
                       (*w.record->value < w.expected->low || *w.record->value > w.expected->high);
  if (w.record)
    w.state = outside || !w.held_by.empty() ? WorkStep::State::done_over : WorkStep::State::done;
  else if (!w.held_by.empty())
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
  const int packs = static_cast<int>(p.number("layout", "packs"));
  for (const commission::Checklist& list : commission::checklists())
    for (int k = 0; k < (list.each_pack ? packs : 1); ++k) {
      WorkList w;
      w.list = &list;
      w.pack = list.each_pack ? layout::pack_name(k) : "";
      const std::string_view first = list.steps.front().id;
      w.id = std::string(first.substr(0, first.find('/'))) + (w.pack.empty() ? "" : "@" + w.pack);
      for (const commission::CheckStep& step : list.steps)
        w.steps.push_back(step_of(step, w.pack, p, plan));
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
  if (s.by.empty()) throw InputError({}, "nobody's name", "who did it", "say it with --by");
  if (!base::day_of(s.on))
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
  if (found->step->needs_note && s.note.empty())
    throw InputError({}, fmt::format("no note for {}", s.what),
                     "what opened or was measured how, and after how long", "say it with --note");
  const bool outside = s.value && found->expected &&
                       (*s.value < found->expected->low || *s.value > found->expected->high);
  if (outside && s.note.empty())
    throw InputError({}, fmt::format("{:g} {} for {}", *s.value, found->expected->unit, s.what),
                     fmt::format("{:g} to {:g} {}: {}", found->expected->low, found->expected->high,
                                 found->expected->unit, found->expected->from),
                     "mend it and read again; or say with --note why it is signed all the same");
  if (!found->held_by.empty() && s.note.empty()) {
    std::string ids;
    for (const std::string& id : found->held_by) ids += (ids.empty() ? "" : ", ") + id;
    throw InputError({}, fmt::format("{} while {} stands at stop", s.what, ids),
                     "the findings mended first (packhouse check FILE)",
                     "mend them; or say with --note why it is signed all the same");
  }
  p.signatures.push_back(s);
}

Json to_json(const std::vector<WorkList>& lists) {
  Json json = Json::array();
  for (const WorkList& list : lists) {
    Json steps = Json::array();
    for (const WorkStep& w : list.steps) {
      Json one = {{"id", w.id},
                  {"text", w.step->text},
                  {"state", name(w.state)},
                  {"needs_note", w.step->needs_note},
                  {"held_by", w.held_by}};
      one["expected"] = w.expected ? Json{{"low", w.expected->low},
                                          {"high", w.expected->high},
                                          {"unit", w.expected->unit},
                                          {"from", w.expected->from}}
                                   : Json(nullptr);
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

}  // namespace works
