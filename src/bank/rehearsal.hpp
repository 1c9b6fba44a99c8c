// SPDX-License-Identifier: Apache-2.0
// Rehearsals: a fault played on the twin, what one would see, and which setting catches it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bank/simulate.hpp"

namespace bank {

/// A line of a rehearsal's chart.
struct Trace {
  std::string name, unit;
  std::vector<double> values;  ///< one for each time
};

struct Rehearsal {
  std::string name, title;
  std::string seen;        ///< what one would see, in sentences
  std::string caught_by;   ///< which device, or "nothing"
  double caught_s = -1.0;  ///< after the fault began; −1: never
  std::vector<double> times_s;
  std::vector<Trace> traces;
  findings::Finding finding;  ///< with its evidence and what to check
};

struct RehearsalKind {
  std::string_view name, title;
  findings::Id finding;
};
[[nodiscard]] const std::vector<RehearsalKind>& rehearsal_kinds();

/// What rehearsals need to know beside the twin.
struct RehearsalInput {
  Setup setup;
  double power_W = 0.0;  ///< design power at the bus
  double room_C = 20.0;
  double fuse_A = 0.0;                           ///< each pack's; zero: not known
  double short_low_A = 0.0, short_high_A = 0.0;  ///< of a short on the bus, both ends
};

/// Plays one. Requires a name from the list. Deterministic.
[[nodiscard]] Rehearsal rehearse(std::string_view name, const RehearsalInput& input);

/// `traces`: with the lines of its chart.
[[nodiscard]] base::Json to_json(const Rehearsal& rehearsal, bool traces);

}  // namespace bank
