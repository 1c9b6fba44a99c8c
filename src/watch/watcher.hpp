// SPDX-License-Identifier: Apache-2.0
// One pack watched: readings in, a verdict a cell out, with what it rests on and what to measure
// next.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "findings/finding.hpp"
#include "watch/estimator.hpp"
#include "watch/next.hpp"
#include "watch/rules.hpp"
#include "watch/short_record.hpp"

namespace watch {

enum class Verdict : std::uint8_t { as_expected, note, alarm, cannot_tell };
[[nodiscard]] std::string_view name(Verdict verdict);

struct CellVerdict {
  Verdict verdict = Verdict::cannot_tell;
  std::optional<Kind> kind;
  long since = 0;  ///< day since 1970; 0: none
  double healthy = 0.0;
  std::array<double, kinds> probability = {};
  Estimates change;
  double resistance_percent = 0.0, resistance_u_percent = 0.0;
  std::optional<NextMeasurement> next;
  std::string sentence;
};

struct PackVerdict {
  std::vector<CellVerdict> cells;
  double offset_mA = 0.0, offset_u_mA = 0.0;
  std::optional<double> days_since_full;
  int full_days = 0;
  double through_Ah = 0.0;
  bool lasting = false;  ///< long enough for trends
  std::vector<findings::Finding> findings;
};

class Watcher {
 public:
  Watcher(PackFacts facts, RuleLimits limits, Tuning tuning = {});
  void add(const Reading& reading);
  /// Days that a kept record holds already.
  void add(const Day& day);
  /// What the record shows so far. `places` names the cells, `when` writes a time, `day_text` a
  /// day.
  [[nodiscard]] PackVerdict verdict(const std::vector<std::string>& places,
                                    const std::function<std::string(double)>& when);
  /// The days that have ended since the last call: what a kept record keeps of them.
  [[nodiscard]] std::vector<Day> take_days();

 private:
  void take();
  CellVerdict judge_long(int cell) const;
  CellVerdict judge_short(int cell, const OddCell& odd) const;
  PackFacts facts_;
  DayBuilder builder_;
  Estimator estimator_;
  ShortRecord short_;
  Rules rules_;
  std::vector<Day> days_;
  double through_Ah_ = 0.0, first_s_ = not_known, last_s_ = not_known;
  int full_days_ = 0;
};

}  // namespace watch
