// SPDX-License-Identifier: Apache-2.0
// Playing a profile on the twin, and what is to be told of it.
#pragma once

#include <functional>
#include <optional>
#include <vector>

#include "bank/twin.hpp"
#include "findings/finding.hpp"

namespace bank {

/// What is asked from a time on, until the next row; the last row only says when it ends.
struct Profile {
  Demand::Kind kind = Demand::Kind::power;
  struct Row {
    double time_s = 0.0, value = 0.0;
    std::optional<double> room_C = {};  ///< of the room from here on; nothing: as before
  };
  std::vector<Row> rows;  ///< at least two, times ascending
};

struct PackRun {
  double delivered_As = 0.0;
  int lowest_cell = -1, highest_cell = -1;  ///< of the twin, over the whole run
  double lowest_V = 1e300, highest_V = -1e300;
};

struct Run {
  std::size_t steps = 0;
  std::vector<PackRun> packs;
  double hottest_C = -1e300;
  int hottest_cell = -1;
  std::optional<Event> stopped_by;  ///< the first protection that cut what was asked
};

/// Plays a profile in steps of `step_s`, the last before each row shortened so that rows are met
/// exactly. `room_C` until a row says otherwise. `each_step` after every step, false ends the run.
/// Deterministic.
[[nodiscard]] Run play(Twin& twin, const Profile& profile, double step_s, double room_C,
                       const std::function<bool(const Twin&)>& each_step = {});

/// What devices did and what could not be done, one finding for each kind of event.
[[nodiscard]] std::vector<findings::Finding> findings_of(const Twin& twin);

/// Pack, or group of a pack, that an event speaks of; "bus" for the whole bank.
[[nodiscard]] std::string place_of(const Event& event);

}  // namespace bank
