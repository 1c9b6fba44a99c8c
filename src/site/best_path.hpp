// SPDX-License-Identifier: Apache-2.0
// The cheapest way of one store through many steps, exactly and without a solver: each step's
// change of charge has a convex, piecewise linear cost. Derivation in docs/models/best-year.md.
#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace site {

/// A stretch over which the cost of a step's change rises by `slope` a kWh held, `kWh` long.
struct Piece {
  double slope, kWh;
};

/// What a step's change of charge costs: `at_low` at the change `low_kWh` (out of the store below
/// zero), then pieces of ascending slope. No pieces and `feasible` false: no change serves the
/// step.
struct StepCost {
  static constexpr std::size_t most = 12;
  double low_kWh = 0.0, at_low = 0.0;
  std::array<Piece, most> piece{};
  std::size_t pieces = 0;
  bool feasible = true;
  void add(double slope, double kWh) {
    if (kWh <= 0.0) return;
    if (pieces > 0 && piece[pieces - 1].slope >= slope) {
      piece[pieces - 1].kWh += kWh;  // equal but for the last bit
      return;
    }
    piece[pieces++] = {slope, kWh};
  }
};

/// One step at the house, kW and prices a kWh; all efficiencies constant. `import_dear_kW` is the
/// import up to which `buy` holds; from there to `import_kW` it is `buy_dear`, not below `buy`.
struct StepAtHouse {
  double dt_h = 0.25;
  double used_kW = 0.0, solar_kW = 0.0;  ///< load with standby; sun, which may be thrown away
  double buy = 0.0, sell = 0.0, buy_dear = 0.0;
  double import_kW = 50.0, import_dear_kW = 50.0, export_kW = 50.0;
  double charge_kW = 5.0, discharge_kW = 5.0;
  double eta_in = 0.95, by_eta_out = 1.0 / 0.95;
  [[nodiscard]] double needed_kW() const { return used_kW - solar_kW; }
};

/// The least cost of each change, over import, export (of sun alone), curtailment, charge and
/// discharge; import and export, or charge and discharge, may be at once, as in the relaxed
/// programme: with negative prices, or a price of selling above that of buying, it is a bound.
[[nodiscard]] StepCost step_cost(const StepAtHouse& step);

/// The powers of the least cost for one change, kWh held.
struct StepFlows {
  double import_kW = 0.0, export_kW = 0.0, charge_kW = 0.0, discharge_kW = 0.0, cost = 0.0;
};
[[nodiscard]] StepFlows step_flows(const StepAtHouse& step, double change_kWh);

/// Between which charges the store moves, where it starts, and what is asked of its end.
struct PathLimits {
  double low_kWh = 0.0, high_kWh = 10.0, start_kWh = 0.0;
  bool closed = false;     ///< ends with `start_kWh`
  double end_worth = 0.0;  ///< of a kWh held at the end, where it is open
};

/// Plans a way; keeps its memory from plan to plan.
class PathPlanner {
 public:
  void start(const PathLimits& limits);
  /// The next step. False where no way serves it; nothing more may be added then.
  bool add(const StepCost& step) { return add(step, true); }
  /// The same, for the cost alone: `trace` may not be called.
  bool add_cost_only(const StepCost& step) { return add(step, false); }
  /// The least cost of all that was added, less the end's worth. Nothing may be impossible before;
  /// false where a closed end cannot be met.
  bool finish(double* cost);
  /// After `finish`: the charge at the end of every step.
  void trace(std::vector<double>& charge_kWh);
  /// After `trace`: what a kWh held at the end of each step is worth (a price that supports the
  /// whole way), and what one more kWh of room would take from the cost.
  double worth(std::span<const double> charge_kWh, std::vector<double>& worth);
  [[nodiscard]] std::size_t most_slopes() const { return most_slopes_; }

 private:
  struct Mark {  ///< a piece of a step: where in the value function it lies
    double slope, kWh, at;
  };
  struct StepMark {
    double low;
    std::size_t end;  ///< of its pieces in `marks_`
  };
  bool add(const StepCost& step, bool traced);

  PathLimits limits_;
  double from_ = 0.0, to_ = 0.0, at_from_ = 0.0;  ///< ends of the value function; its value there
  std::vector<Piece> now_, next_;
  std::vector<Mark> marks_;
  std::vector<StepMark> steps_;
  double end_ = 0.0;
  std::size_t most_slopes_ = 0;
};

}  // namespace site
