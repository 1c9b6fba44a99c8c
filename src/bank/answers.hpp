// SPDX-License-Identifier: Apache-2.0
// What people ask of a bank, answered by playing it.
#pragma once

#include <optional>
#include <vector>

#include "bank/simulate.hpp"

namespace bank {

/// What a bank gives from full at a constant power.
struct Usable {
  double Ah = 0.0, Wh = 0.0, hours = 0.0;
  std::optional<Event> ended_by;  ///< nothing: it went on for as long as was looked
  int weakest_cell = -1;          ///< lowest when it ended
  double weakest_V = 0.0;
  enum class Why {
    holds_least,
    started_lowest,
    resists_most,
    shares_its_group
  } why = Why::holds_least;
  double hottest_C = 0.0;
  int hottest_cell = -1;
  double cells_heat_Wh = 0.0, path_heat_Wh = 0.0;
};
/// Full at the start (the setup's charges count as they are), a room of constant temperature,
/// until a device stops it; at most 400 hours. The reason compares the weakest cell with the
/// median of its pack: charge it could give, start, resistance.
[[nodiscard]] Usable usable(const Setup& setup, double power_W, double room_C,
                            double step_s = 60.0);
/// The reason in words.
[[nodiscard]] const char* words(Usable::Why why);

/// Charge that the fullest cell has more than the emptiest of its pack, ampere-hours, the largest
/// of the packs: charge missing to full counts, so that cells of unequal capacity compare at the
/// top.
[[nodiscard]] double spread_at_top_Ah(const Twin& twin, const Setup& setup);

/// How long the built-in balancers take while the charger keeps the bank at its charging voltage.
struct Balancing {
  double hours = 0.0;
  bool done = false;                    ///< within `most_hours`
  double start_Ah = 0.0, end_Ah = 0.0;  ///< spread at the top
  struct Point {
    double hours, spread_Ah, spread_mV;
  };
  std::vector<Point> course;  ///< every hour
};
[[nodiscard]] Balancing balance_in_pack(const Setup& setup, double charge_A, double room_C,
                                        double good_Ah, double most_hours);

/// All cells in parallel on one supply, as before assembly: hours until the current has fallen to a
/// fortieth of what the supply gives (common practice, no source) at the cells' upper limit.
struct ParallelTop {
  double hours = 0.0,
         hours_to_voltage = 0.0;  ///< until done, and until the supply holds its voltage
  double spread_Ah = 0.0;         ///< left over
  bool done = false;
};
[[nodiscard]] ParallelTop parallel_top_balance(const Setup& setup, double supply_A, double hold_V,
                                               double room_C);

/// A pack charged in series until its first group is full, then its cells in parallel on the
/// supply: what the series charge saves.
struct SeriesThenParallel {
  double series_hours = 0.0;
  double spread_Ah = 0.0;  ///< between its cells when the series charge ends
  ParallelTop parallel;
};
/// `setup` of one pack; `charge_A` in series, `supply_A` in parallel, both until `hold_V` of a
/// cell.
[[nodiscard]] SeriesThenParallel series_then_parallel(const Setup& setup, double charge_A,
                                                      double supply_A, double hold_V,
                                                      double room_C);

}  // namespace bank
