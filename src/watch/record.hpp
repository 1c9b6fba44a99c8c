// SPDX-License-Identifier: Apache-2.0
// One reading of a running pack as plain numbers, and what is known of the pack before any reading.
#pragma once

#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace watch {

inline constexpr double not_known = std::numeric_limits<double>::quiet_NaN();
[[nodiscard]] inline bool known(double x) { return std::isfinite(x); }

/// Readings of one pack at one moment. Current discharge positive. NaN where nothing was read.
struct Reading {
  double time_s = 0.0;  ///< since 1970 UTC, or since the record's start where it has no date
  double current_A = not_known;
  /// Taken out since the reading before, where the record knows it better than by holding the
  /// current; NaN: hold.
  double charge_Ah = not_known;
  std::span<const float> cells_V;  ///< one a group in series; NaN: missing
  std::span<const float> cells_C;  ///< the same, or empty: no sensor of their own
  double temperature_C = not_known;
  bool new_segment = false;  ///< no charge is counted from the reading before to this one
};

/// A balancer that bleeds the fullest cells: a cell bleeds above `start_V` while it stands more
/// than `window_V` above the lowest.
struct Bleeding {
  double start_V, window_V, current_A;
};

/// What the project says of one pack. Groups of parallel cells count as one.
struct PackFacts {
  std::string name = "A";
  int series = 16;
  double capacity_Ah = 230.0;    ///< of a group
  double resistance_mOhm = 0.5;  ///< of a group, DC at 10 s, 25 °C
  std::optional<Bleeding> bleeding = std::nullopt;
};

/// What is tracked of each cell, always against the median cell.
enum class State : std::uint8_t {
  offset,      ///< charge that it lacks at full, Ah
  leak,        ///< self-discharge, mA; the offset grows by 0.024 Ah a day for each
  capacity,    ///< relative, as a share
  resistance,  ///< that follows the cell's temperature law, mΩ at 25 °C
  slow,        ///< the slow part of it, mΩ at 25 °C
  sense,       ///< reading error, mV
  joint        ///< resistance without temperature and lag, mΩ
};
inline constexpr int states = 7;
[[nodiscard]] constexpr int index(State s) { return int(s); }

enum class Kind : std::uint8_t { drift, capacity, resistance, joint, sense };
inline constexpr int kinds = 5;
[[nodiscard]] std::string_view name(Kind kind);

}  // namespace watch
