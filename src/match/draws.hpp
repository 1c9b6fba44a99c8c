// SPDX-License-Identifier: Apache-2.0
// Random draws from a seed that a caller gives: small, fast, and the same on every machine.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <numbers>

namespace match {

/// xorshift64* (Marsaglia 2003, Vigna 2016).
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ULL | 1) {}
  std::uint64_t next() {
    state_ ^= state_ >> 12;
    state_ ^= state_ << 25;
    state_ ^= state_ >> 27;
    return state_ * 0x2545F4914F6CDD1DULL;
  }
  /// 0 … n − 1.
  std::size_t below(std::size_t n) {
    return static_cast<std::size_t>(((next() >> 32) * static_cast<std::uint64_t>(n)) >> 32);
  }
  /// 0 … 1, the end left out.
  double uniform() { return double(next() >> 11) * 0x1.0p-53; }
  /// Standard normal, by Box and Muller.
  double normal() {
    const double u = uniform() + 0x1.0p-54;
    return std::sqrt(-2.0 * std::log(u)) * std::cos(2.0 * std::numbers::pi * uniform());
  }

 private:
  std::uint64_t state_;
};

}  // namespace match
