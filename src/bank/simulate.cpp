// SPDX-License-Identifier: Apache-2.0
#include "bank/simulate.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"

namespace bank {
namespace {

using findings::Finding;
using findings::Severity;
using EventKind = Event::Kind;

bool cuts(EventKind kind) {
  return kind == EventKind::cell_high || kind == EventKind::cell_low ||
         kind == EventKind::too_cold || kind == EventKind::too_hot ||
         kind == EventKind::over_current || kind == EventKind::bus_low;
}

/// What to say of a kind of event; nothing of the harmless ones.
std::optional<Finding> told(EventKind kind) {
  switch (kind) {
    case EventKind::cell_high:
      return Finding{
          .id = findings::Id::bms_ended_charge,
          .severity = Severity::caution,
          .what = "A BMS ended the charge, not the charger.",
          .why = "A BMS is the last guard; where it works every day, nothing stands behind it.",
          .remedy = "Charge to a lower voltage, or balance the pack at the top."};
    case EventKind::cell_low:
      return Finding{.id = findings::Id::bms_ended_discharge,
                     .severity = Severity::caution,
                     .what = "A BMS ended the discharge, not the inverter.",
                     .why = "The whole pack drops out under load, and the others take its share.",
                     .remedy = "Raise the inverter's stop, or find the cell that is empty first."};
    case EventKind::too_cold:
      return Finding{.id = findings::Id::too_cold_to_charge,
                     .severity = Severity::caution,
                     .what = "A BMS refused the charge because a cell was too cold.",
                     .why = "Charging a cold cell plates lithium, which cannot be undone.",
                     .remedy = "Warm the place, or charge later in the day."};
    case EventKind::too_hot:
      return Finding{.id = findings::Id::too_hot,
                     .severity = Severity::stop,
                     .what = "A BMS opened because a cell was too hot.",
                     .why = "Heat ages cells quickly and, further up, starts fires.",
                     .remedy = "Less current, more air, or a cooler place."};
    case EventKind::over_current:
      return Finding{.id = findings::Id::pack_over_current,
                     .severity = Severity::stop,
                     .what = "A BMS opened because its pack carried too much.",
                     .why = "The packs that are left take over its share and may follow.",
                     .remedy = "Less power, or more packs; see that the packs share alike."};
    case EventKind::bus_low:
      return Finding{
          .id = findings::Id::inverter_stopped,
          .severity = Severity::note,
          .what = "The inverter stopped at its low voltage.",
          .why = "That is its task: the bank was empty for this load.",
          .remedy = "Nothing, where it happens rarely; else a larger bank or less load."};
    case EventKind::asked_too_much:
      return Finding{.id = findings::Id::power_curtailed,
                     .severity = Severity::caution,
                     .what = "More power was asked than the bank can give; it gave what it could.",
                     .why = "Past half the voltage more current gives less power.",
                     .remedy = "Ask for less, or correct the profile's unit."};
    default:
      return std::nullopt;
  }
}

}  // namespace

std::string place_of(const Event& e) {
  if (e.pack < 0) return "bus";
  if (e.group < 0) return "pack " + layout::pack_name(e.pack);
  return fmt::format("group {}-{:02}", layout::pack_name(e.pack), e.group + 1);
}

Run play(Twin& twin, const Profile& profile, double step_s, double room_C,
         const std::function<bool(const Twin&)>& each_step) {
  CHECK(profile.rows.size() >= 2);
  Run run;
  const int per_pack = twin.cells() / twin.packs();
  run.packs.resize(std::size_t(twin.packs()));
  std::size_t seen_events = twin.events().size();
  for (std::size_t r = 0; r + 1 < profile.rows.size(); ++r) {
    CHECK(profile.rows[r + 1].time_s > profile.rows[r].time_s);
    const Demand demand{profile.kind, profile.rows[r].value};
    room_C = profile.rows[r].room_C.value_or(room_C);
    const double length = profile.rows[r + 1].time_s - profile.rows[r].time_s;
    const auto steps = static_cast<std::size_t>(std::max(1.0, std::ceil(length / step_s - 1e-9)));
    for (std::size_t i = 0; i < steps; ++i) {
      const double dt = i + 1 < steps ? step_s : length - step_s * double(steps - 1);
      twin.set_step(base::Seconds::from_si(dt));
      twin.step(demand, room_C);
      ++run.steps;
      for (int c = 0; c < twin.cells(); ++c) {
        PackRun& pack = run.packs[std::size_t(c / per_pack)];
        const double V = twin.cell_V(c), C = twin.temperature_C(c);
        if (V < pack.lowest_V) pack.lowest_V = V, pack.lowest_cell = c;
        if (V > pack.highest_V) pack.highest_V = V, pack.highest_cell = c;
        if (C > run.hottest_C) run.hottest_C = C, run.hottest_cell = c;
      }
      for (int k = 0; k < twin.packs(); ++k)
        run.packs[std::size_t(k)].delivered_As += twin.pack_A(k) * dt;
      for (; seen_events < twin.events().size(); ++seen_events)
        if (!run.stopped_by && cuts(twin.events()[seen_events].kind))
          run.stopped_by = twin.events()[seen_events];
      if (each_step && !each_step(twin)) return run;
    }
  }
  return run;
}

std::vector<Finding> findings_of(const Twin& twin) {
  std::vector<Finding> list;
  for (const Event& e : twin.events()) {
    std::optional<Finding> said = told(e.kind);
    if (!said) continue;
    Finding& f = *said;
    const auto same =
        std::find_if(list.begin(), list.end(), [&](const Finding& x) { return x.id == f.id; });
    if (same != list.end()) continue;
    const auto times = std::count_if(twin.events().begin(), twin.events().end(),
                                     [&](const Event& x) { return x.kind == e.kind; });
    f.where = place_of(e);
    f.measured = fmt::format("{} after {:.0f} s{}", words(e), e.time_s,
                             times > 1 ? fmt::format(", {} times in all", times) : "");
    f.basis = "the twin (docs/models/bank.md)";
    list.push_back(std::move(f));
  }
  findings::sort_by_severity(list);
  return list;
}

}  // namespace bank
