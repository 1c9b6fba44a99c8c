// SPDX-License-Identifier: Apache-2.0
// One played bank under the estimator, and what came of it.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "tests/judge/watch/played_bank.hpp"
#include "watch/estimator.hpp"

namespace judge {

struct Line {
  std::string name;
  Scene scene;
};

struct Outcome {
  std::optional<double> days_to_note, days_to_alarm;
  std::optional<watch::Kind> named;
  int other_alarms = 0, early_alarms = 0, other_notes = 0, cells_told_sound = 0;
  std::vector<std::string> wrongly;  ///< each false alarm in words
  double watched_days = 0.0;
  std::array<double, 6> p_right = {};
  struct Look {
    double p_fault;
    bool faulty;
  };
  std::vector<Look> looks;  ///< one a cell each thirty days
  /// Within ±1.96 u, and how many: levels then changes, per state.
  std::array<std::array<int, watch::states>, 2> inside = {}, asked = {};
  std::array<std::array<double, watch::states>, 2> squares = {}, claimed = {};
};

[[nodiscard]] Outcome run(const Line& line, std::uint64_t seed, const watch::Tuning& tuning = {});

/// Sums looks and intervals over runs.
class Honesty {
 public:
  void add(const Outcome& o);
  void print() const;

 private:
  std::array<double, 10> p_ = {};
  std::array<int, 10> looks_ = {}, faulty_ = {};
  std::array<std::array<int, watch::states>, 2> inside_ = {}, asked_ = {};
  std::array<std::array<double, watch::states>, 2> squares_ = {}, claimed_ = {};
};

}  // namespace judge
