// SPDX-License-Identifier: Apache-2.0
// A log cut into what the tester did: charge, discharge, rest; at constant current or voltage, or
// in pulses.
#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>
#include <vector>

#include "logs/log.hpp"

namespace bench {

enum class Kind : std::uint8_t { rest, charge, discharge };
enum class Mode : std::uint8_t { other, constant_current, constant_voltage, pulse };
[[nodiscard]] std::string_view name(Kind kind);
[[nodiscard]] std::string_view name(Mode mode);

struct Phase {
  Kind kind = Kind::rest;
  Mode mode = Mode::other;
  std::size_t first = 0, last = 0;  ///< rows, both within
  double start_s = 0.0, end_s = 0.0;
  double charge_Ah = 0.0, energy_Wh = 0.0;  ///< magnitudes
  double mean_current_A = 0.0;              ///< discharge positive
  double start_V = 0.0, end_V = 0.0;
};

/// Charge and energy of the whole log, each direction by itself.
struct Totals {
  double charged_Ah = 0.0, discharged_Ah = 0.0;
  double charged_Wh = 0.0, discharged_Wh = 0.0;
};

/// Every row belongs to one phase. Each interval between two rows gives half its length to either,
/// so max(±I, 0) is integrated by the trapezoid, a straight line is never drawn across a jump of
/// sign, and the phases add up to the totals. A log written on change gives the whole interval to
/// its first row.
[[nodiscard]] std::vector<Phase> find_phases(const logs::Log& log);
[[nodiscard]] Totals totals(const logs::Log& log);

}  // namespace bench
