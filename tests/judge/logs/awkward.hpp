// SPDX-License-Identifier: Apache-2.0
// Writes one known test of a cell in awkward layouts: what builders' testers, phones and
// spreadsheets make of a log. It knows nothing of how logs are read.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace judge {

/// Draws that are the same on every machine.
class Draws {
 public:
  explicit Draws(std::uint64_t seed) : state_(seed) {}
  std::uint64_t next() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ULL);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  }
  double uniform() { return double(next() >> 11) * 0x1.0p-53; }
  double within(double low, double high) { return low + (high - low) * uniform(); }
  std::size_t below(std::size_t n) { return static_cast<std::size_t>(next() % n); }
  bool chance(double p) { return uniform() < p; }
  double normal();
  template <class T>
  const T& one_of(const std::vector<T>& list) {
    return list[below(list.size())];
  }

 private:
  std::uint64_t state_;
};

/// What a test really did; the current discharge positive.
struct Truth {
  std::vector<double> time_s, voltage_V, current_A, temperature_C;
  std::vector<int> step;          ///< 1 charge, 2 rest, 3 discharge, 4 rest …
  std::vector<double> charge_Ah;  ///< moved since the step began, as the tester counts
  std::vector<double> energy_Wh;  ///< the same
  double charged_Ah = 0.0, discharged_Ah = 0.0;
  double last_row_Ah = 0.0;  ///< moved in the last interval, where the last row is cut off
};
Truth draw_test(Draws& draws);

/// The same test as a file, and in words how it was written.
struct AwkwardLog {
  std::string bytes, how;
  Truth truth;
};
AwkwardLog draw_log(std::uint64_t seed);

}  // namespace judge
