// SPDX-License-Identifier: Apache-2.0
// Tables of published values and straight lines between them.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace base {

/// y at x by straight lines between the points (x ascending, at least two). Outside the table the
/// end value is held: a published table says nothing beyond its ends.
[[nodiscard]] double interpolate(std::span<const double> xs, std::span<const double> ys, double x);

/// Slope dy/dx of the straight piece that holds x; zero outside the table.
[[nodiscard]] double slope(std::span<const double> xs, std::span<const double> ys, double x);

/// The lowest and highest x at which the table's y lies within [low, high], or nothing where none
/// does. ys need not be monotone.
struct Interval {
  double low, high;
};
[[nodiscard]] std::optional<Interval> preimage(std::span<const double> xs,
                                               std::span<const double> ys, double low, double high);

}  // namespace base
