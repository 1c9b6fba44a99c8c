// SPDX-License-Identifier: Apache-2.0
#include "site/store.hpp"

#include <array>
#include <cstddef>

namespace site {

Loss loss_through(double at_tenth, double at_half, double at_full) {
  // p + k0 + k1 p + k2 p² = p / η at three points.
  const std::array<double, 3> p = {0.1, 0.5, 1.0}, eta = {at_tenth, at_half, at_full};
  std::array<double, 3> y{};
  for (std::size_t i = 0; i < 3; ++i) y[i] = p[i] / eta[i] - p[i];
  const double d1 = (y[1] - y[0]) / (p[1] - p[0]), d2 = (y[2] - y[1]) / (p[2] - p[1]);
  const double k2 = (d2 - d1) / (p[2] - p[0]), k1 = d1 - k2 * (p[0] + p[1]);
  return {y[0] - k1 * p[0] - k2 * p[0] * p[0], k1, k2};
}

}  // namespace site
