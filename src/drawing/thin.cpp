// SPDX-License-Identifier: Apache-2.0
#include "drawing/thin.hpp"

#include <algorithm>

#include "base/check.hpp"

namespace drawing {

std::vector<std::size_t> thinned(std::span<const double> y, std::size_t most) {
  CHECK(most >= 8);
  std::vector<std::size_t> kept;
  if (y.size() <= most) {
    kept.resize(y.size());
    for (std::size_t i = 0; i < y.size(); ++i) kept[i] = i;
    return kept;
  }
  const std::size_t stretches = most / 4;
  for (std::size_t s = 0; s < stretches; ++s) {
    const std::size_t from = s * y.size() / stretches, to = (s + 1) * y.size() / stretches;
    std::size_t low = from, high = from;
    for (std::size_t i = from; i < to; ++i) {
      if (y[i] < y[low]) low = i;
      if (y[i] > y[high]) high = i;
    }
    std::size_t four[] = {from, low, high, to - 1};
    std::sort(std::begin(four), std::end(four));
    for (const std::size_t i : four)
      if (kept.empty() || kept.back() != i) kept.push_back(i);
  }
  return kept;
}

}  // namespace drawing
