// SPDX-License-Identifier: Apache-2.0
// How steep the open-circuit curve is, from published tables at first, from the pack itself later.
#pragma once

#include <array>
#include <vector>

namespace watch {

/// Open-circuit voltage at a state of charge 0…1, the mean of two published cells, both branches
/// averaged. [Sunil2025] [Plett2015]
[[nodiscard]] double mean_curve_V(double state_of_charge);
/// The state of charge at which the mean curve reads so; 0…1.
[[nodiscard]] double charge_at_V(double volts);

/// Learns the slope of the pack's own curve from the median cell while it passes through its
/// charge, so that a table of another make is not held against these cells.
class LearntCurve {
 public:
  LearntCurve();
  /// The median cell's voltage without its ohmic part, at a state of charge known to about 3 %.
  void add(double state_of_charge, double volts, bool charging, double weight);
  /// Takes over what was added; call once a day.
  void settle();
  /// Volts per unit of state of charge.
  [[nodiscard]] double slope_V(double state_of_charge) const;

 private:
  static constexpr int bins = 80;
  struct Sum {
    double weight = 0.0, volts = 0.0;
  };
  std::array<std::array<Sum, bins>, 2> sums_ = {};
  std::array<double, bins> slope_ = {};
};

}  // namespace watch
