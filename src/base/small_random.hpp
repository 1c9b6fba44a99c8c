// SPDX-License-Identifier: Apache-2.0
// Numbers that look like chance and are the same on every machine; the seed is the caller's.
#pragma once

#include <cmath>
#include <cstdint>

namespace base {

/// SplitMix64 [Steele2014]: one addition and a mix; good enough for drawing weather and futures.
class SmallRandom {
 public:
  explicit SmallRandom(std::uint64_t seed) : state_(seed) {}
  [[nodiscard]] std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ULL);
    z = (z ^ (z >> 30U)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27U)) * 0x94D049BB133111EBULL;
    return z ^ (z >> 31U);
  }
  /// 0 to 1, without 1.
  [[nodiscard]] double uniform() { return double(next() >> 11U) * 0x1.0p-53; }
  /// Mean 0, standard deviation 1, by sum of twelve: the same bits wherever additions are.
  [[nodiscard]] double normal() {
    double sum = -6.0;
    for (int i = 0; i < 12; ++i) sum += uniform();
    return sum;
  }

 private:
  std::uint64_t state_;
};

}  // namespace base
