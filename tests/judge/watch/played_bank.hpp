// SPDX-License-Identifier: Apache-2.0
// An invented pack played minute by minute, to judge the estimator by: every cell has its own
// curve, capacity, resistances, time constants, activation energies, hysteresis and leak, none of
// which the estimator is told. Synthetic data for a statistical test; it shares no code with what
// it judges.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "watch/record.hpp"

namespace judge {

struct Fault {
  watch::Kind kind = watch::Kind::drift;
  double size = 0.0;  ///< mA, share (−0.03), share (0.2), mΩ or mV
  int cell = 7;
  double from_day = 120.0, ramp_days = 0.0;
};

struct Scene {
  std::uint64_t seed = 1;
  int series = 16;
  double capacity_Ah = 230.0, days = 365.0, step_s = 60.0;
  double winter = 1.0;  ///< 0: sun as in June all year
  bool balancer = false, on_change = false, gaps = false;
  bool mid_only = false;  ///< never leaves 35 to 65 %
  std::vector<Fault> faults;
  double first_day = 20150.0;  ///< since 1970: 3 March 2025
};

/// What is true of one cell, in the estimator's units, against the median of all.
struct Truth {
  double offset_Ah, leak_mA, capacity, resistance_mOhm, sense_mV, joint_mOhm;
};

/// Plays the scene; `on_reading` is called with every reading, in order, and says whether to go on.
/// `on_day`, where given, at every midnight with the truth of all cells.
void play(const Scene& scene, const std::function<bool(const watch::Reading&)>& on_reading,
          const std::function<void(long, const std::vector<Truth>&)>& on_day = {});

}  // namespace judge
