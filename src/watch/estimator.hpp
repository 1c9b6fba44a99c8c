// SPDX-License-Identifier: Apache-2.0
// What each cell's differences from the median cell show, day by day: seven states with their
// uncertainty, and whether one of five faults began, when, and which.
#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "watch/day.hpp"
#include "watch/record.hpp"

namespace watch {

/// What a healthy cell may do by itself, and how far readings are to be believed. For 230 Ah;
/// charge scales with capacity, resistance against it. Chosen on banks played with seeds of their
/// own (docs/models/watch.md); engineering choice.
struct Tuning {
  Vector start = {0.6, 0.35, 0.008, 0.03, 0.04, 2.5, 0.03};              ///< sd before any reading
  Vector walk = {0.006, 0.005, 0.00015, 0.0007, 0.0007, 0.025, 0.0004};  ///< sd per √day
  Vector healthy = {0.30, 0.13, 0.0045, 0.016, 0.014, 0.7, 0.012};  ///< a change that is no fault
  /// What stays wrong of a level and of a change because each cell's curve is its own: sd.
  Vector level_error = {0.25, 0.03, 0.004, 0.014, 0.0, 1.1, 0.0};
  Vector change_error = {0.05, 0.0, 0.002, 0.005, 0.0, 0.22, 0.0};
  double reading_mV = 2.5;   ///< sd of one minute's difference from the model
  double correlated = 40.0;  ///< minutes that count as one
  double step_mV = 0.5;      ///< sd of the change of a difference between two readings, at least
  double step_correlated = 4.0;  ///< steps that count as one
  double gap_Ah = 0.08;          ///< repeatability of a gap at the end of a charge
  double gap_share = 0.12;       ///< of the gap itself
  double prior = 4e-4;           ///< of each kind and cell
  double note = 0.5, alarm = 0.95;
  int alarm_days = 3;
};

struct Estimate {
  double value = 0.0, u = 0.0;
};
using Estimates = std::array<Estimate, states>;

struct CellReport {
  Estimates level;   ///< with the cell's own curve in the uncertainty
  Estimates change;  ///< since the baseline
  double healthy = 1.0;
  std::array<double, kinds> probability = {};
  std::optional<Kind> kind;  ///< the likeliest, where a fault is likelier than none
  bool note = false, alarm = false;
  long since = 0;       ///< day on which the fault began, as far as the record shows
  long alarmed_on = 0;  ///< day on which the alarm came
  bool seen = false;    ///< the record shows enough to say that the cell is as expected
};

class Estimator {
 public:
  explicit Estimator(PackFacts facts, Tuning tuning = {});
  ~Estimator();
  Estimator(Estimator&&) noexcept;
  Estimator& operator=(Estimator&&) noexcept;

  /// Days in order; days without a reading need not be given.
  void add(const Day& day);
  [[nodiscard]] CellReport report(int cell) const;
  [[nodiscard]] int cells() const;
  [[nodiscard]] int fulls() const;
  [[nodiscard]] std::optional<long> baseline_day() const;
  /// A person closed the alarm with what was found: the states begin anew (a mended or exchanged
  /// cell), and what was found makes its kind so much likelier the next time.
  void close(int cell, std::optional<Kind> found, bool exchanged);

  /// A measurement that might be made: the information it would bring on a cell's seven states.
  struct Measurement {
    Triangle information = {};
    double hours = 0.0;
  };
  /// Expected drop of the entropy (nats) over the hypotheses of this cell.
  [[nodiscard]] double expected_drop(int cell, const Measurement& measurement) const;

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace watch
