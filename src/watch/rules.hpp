// SPDX-License-Identifier: Apache-2.0
// Rules that need no estimator: what may not be, noticed at the reading that shows it.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "findings/finding.hpp"
#include "watch/record.hpp"

namespace watch {

struct RuleLimits {
  double high_V = 3.65, low_V = 2.5;
  double charge_min_C = 0.0;
  double no_full_days = 30.0, silent_hours = 24.0;
};

/// One stretch in which a rule was broken.
struct Breach {
  double from_s = 0.0, to_s = 0.0, worst = 0.0;
};

/// Watches one pack; findings come with the first and last time and for how long.
class Rules {
 public:
  Rules(PackFacts facts, RuleLimits limits);
  void add(const Reading& reading);
  /// `when` writes a time as text; `place` a cell.
  [[nodiscard]] std::vector<findings::Finding> findings(
      const std::vector<std::string>& places, const std::function<std::string(double)>& when) const;
  [[nodiscard]] double seconds_charging_cold() const { return cold_.seconds; }

 private:
  struct Broken {
    double first_s = not_known, last_s = not_known, seconds = 0.0, worst = 0.0;
    std::size_t readings = 0;
    void note(double t, double seconds_more, double value, bool higher_is_worse);
  };
  PackFacts facts_;
  RuleLimits limits_;
  double last_s_ = not_known;
  std::vector<Broken> high_, low_;
  Broken cold_, balancing_flat_;
  double longest_silence_s_ = 0.0, silence_from_s_ = 0.0;
};

/// Packs on one bus, by their own voltages: how far apart they stand, and one that carries nothing
/// while the others do.
[[nodiscard]] std::vector<findings::Finding> compare_packs(const std::vector<std::string>& names,
                                                           const std::vector<double>& through_Ah,
                                                           const std::vector<double>& mean_V);

}  // namespace watch
