// SPDX-License-Identifier: Apache-2.0
// The lowest point of a convex function of a few figures from planes that lie below it.
#pragma once

#include <span>
#include <vector>

namespace site {

/// Minimises price·Σy + f(y) over 0 ≤ y ≤ high for a convex f that never rises, known by planes
/// f(y) ≥ f(q) + g·(y − q). [Kelley1960]; the small linear programme is solved in its dual form by
/// the revised simplex method, from plane to plane from where it stood.
class CuttingPlanes {
 public:
  /// The first plane must lie at `high`, where f no longer falls (its slopes are zero).
  CuttingPlanes(double price, std::vector<double> high, double value_at_high);
  void add(std::span<const double> at, double value, std::span<const double> slope);
  /// The lowest value that the planes allow, and where. False where the pivots ran out.
  bool solve();
  [[nodiscard]] double lowest() const { return lowest_; }
  [[nodiscard]] const std::vector<double>& at() const { return at_; }

 private:
  struct Plane {
    double value;  ///< at y = 0
    std::vector<double> slope;
  };
  /// Columns of the dual: planes, then for each figure its ceiling and its floor.
  [[nodiscard]] double cost_of(std::size_t column) const;
  void column_of(std::size_t column, std::vector<double>& into) const;

  double price_;
  std::vector<double> high_, at_;
  double lowest_ = 0.0;
  std::size_t rows_;
  std::vector<Plane> planes_;
  std::vector<std::size_t> basis_;  ///< 2k ceiling, 2k + 1 floor of figure k; 2·figures + p plane p
  std::vector<double> inverse_, basic_;
};

}  // namespace site
