// SPDX-License-Identifier: Apache-2.0
#include "base/interpolation.hpp"

#include <algorithm>
#include <cstddef>

#include "base/check.hpp"

namespace base {
namespace {

/// Index of the piece [i, i+1] that holds x, which lies within the table.
std::size_t piece(std::span<const double> xs, double x) {
  const auto above = std::upper_bound(xs.begin(), xs.end(), x);
  const auto i = static_cast<std::size_t>(above - xs.begin());
  return std::clamp<std::size_t>(i, 1, xs.size() - 1) - 1;
}

}  // namespace

double interpolate(std::span<const double> xs, std::span<const double> ys, double x) {
  CHECK(xs.size() == ys.size() && xs.size() >= 2);
  if (x <= xs.front()) return ys.front();
  if (x >= xs.back()) return ys.back();
  const std::size_t i = piece(xs, x);
  return ys[i] + (ys[i + 1] - ys[i]) * (x - xs[i]) / (xs[i + 1] - xs[i]);
}

double slope(std::span<const double> xs, std::span<const double> ys, double x) {
  CHECK(xs.size() == ys.size() && xs.size() >= 2);
  if (x < xs.front() || x > xs.back()) return 0.0;
  const std::size_t i = piece(xs, x);
  return (ys[i + 1] - ys[i]) / (xs[i + 1] - xs[i]);
}

std::optional<Interval> preimage(std::span<const double> xs, std::span<const double> ys, double low,
                                 double high) {
  CHECK(xs.size() == ys.size() && xs.size() >= 2 && low <= high);
  std::optional<Interval> found;
  const auto take = [&](double x) {
    if (!found) found = Interval{x, x};
    found->low = std::min(found->low, x);
    found->high = std::max(found->high, x);
  };
  for (std::size_t i = 0; i + 1 < xs.size(); ++i) {
    for (const std::size_t k : {i, i + 1})
      if (ys[k] >= low && ys[k] <= high) take(xs[k]);
    for (const double y : {low, high}) {  // where this piece crosses an edge of the band
      const double a = ys[i] - y, b = ys[i + 1] - y;
      if (a * b < 0.0) take(xs[i] + (xs[i + 1] - xs[i]) * a / (a - b));
    }
  }
  return found;
}

}  // namespace base
