// SPDX-License-Identifier: Apache-2.0
// Published ageing laws of LFP/graphite cells, and the counting of cycles.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "base/quantity.hpp"

namespace life {

enum class CalendarLaw { naumann_2018, schimpe_2018 };
enum class CycleLaw { naumann_2020, wang_2011, schimpe_2018 };

/// Share of capacity lost by storage at constant conditions (0.05 = 5 %). State of charge 0…1.
/// [Naumann2018] 3 Ah cells, 885 days, 0…60 °C; [Schimpe2018] 3 Ah cells. Beyond that it
/// extrapolates.
[[nodiscard]] double calendar_loss(CalendarLaw law, base::Temperature temperature,
                                   double state_of_charge, base::Seconds time);

/// One kind of cycle, repeated.
struct Cycling {
  double c_rate = 0.25;      ///< of charge and discharge, times capacity per hour
  double depth = 0.8;        ///< 0…1
  double full_cycles = 0.0;  ///< equivalent full cycles: one capacity out and in
  std::optional<base::Temperature> temperature = std::nullopt;  ///< not used by [Naumann2020]
  double mean_charge = 0.5;  ///< state of charge around which it cycles, for [Schimpe2018]
};
/// Share of capacity lost by cycling. [Naumann2020] 0.2…1 C near 25–40 °C; [Wang2011] 0.5…10 C,
/// includes storage; [Schimpe2018] with plating in the cold. Requires a temperature where the law
/// needs one.
[[nodiscard]] double cycle_loss(CycleLaw law, const Cycling& cycling);

/// The three parts of [Schimpe2018]'s cycling: with the root of throughput when warm and when cold,
/// and linear when cold and nearly full.
struct SchimpeParts {
  double warm, cold, cold_high;
};
[[nodiscard]] SchimpeParts schimpe_parts(const Cycling& cycling);

/// True where the conditions lie inside the range in which the law was fitted.
[[nodiscard]] bool fitted(CalendarLaw law, base::Temperature temperature, base::Seconds time);
[[nodiscard]] bool fitted(CycleLaw law, const Cycling& cycling);

/// One counted cycle of a history.
struct CountedCycle {
  double range, mean, count;  ///< count is 0.5 or 1
};
/// Rainflow counting of a history as it stands (not closed into a loop). [ASTM-E1049] 5.4.4
[[nodiscard]] std::vector<CountedCycle> count_cycles(std::span<const double> history);

}  // namespace life
