// SPDX-License-Identifier: Apache-2.0
// What a rule saves in a year of other capacity, load and sun: simulated at a few, read between.
#pragma once

#include <array>
#include <functional>
#include <vector>

#include "site/years.hpp"

namespace site {

/// A year's saving against no bank, in its parts, as money of the year it was made for.
struct Saving {
  double bought = 0.0;  ///< less paid for energy
  double sold = 0.0;    ///< got for what is sold; below zero: less
  double peaks = 0.0;   ///< less paid for months' peaks
  double cycles = 0.0;  ///< full cycles of the capacity when new
  [[nodiscard]] double whole() const { return bought + sold + peaks; }
};

/// The chosen rule, made anew for each, on the year's own steps: 45 years (six capacities would be
/// finer than the rest). Between capacities by straight lines, in load and sun by parabolas through
/// three; outside the corners as at the corner. Within 2 % of a simulated year in between, as
/// tests hold it.
class SavingSurface {
 public:
  static constexpr std::array<double, 5> capacities = {0.30, 0.50, 0.70, 0.85, 1.0};
  static constexpr std::array<double, 3> loads = {0.75, 1.0, 1.35}, suns = {0.75, 1.0, 1.25};

  /// `keep_going` as `play_futures` takes it; where it says no, `stopped`.
  SavingSurface(const Year& year, const Prices& prices, const Store& store, const Rules& rules,
                const Life& life, const std::function<bool(double)>& keep_going = {});
  [[nodiscard]] bool stopped() const { return stopped_; }
  /// `capacity` as a share of new; factors on the year's load and sun.
  [[nodiscard]] Saving at(double capacity, double load, double sun) const;

 private:
  [[nodiscard]] const Saving& node(std::size_t c, std::size_t l, std::size_t s) const {
    return nodes_[(c * loads.size() + l) * suns.size() + s];
  }
  std::vector<Saving> nodes_;
  bool stopped_ = false;
};

}  // namespace site
