// SPDX-License-Identifier: Apache-2.0
// A day of readings boiled down: the normal equations of the linear model, what the end of a charge
// showed, and the counters. A day is all that later estimates need; no reading is kept in it.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "watch/curve.hpp"
#include "watch/record.hpp"

namespace watch {

using Vector = std::array<double, states>;
/// Upper triangle of a symmetric matrix, row by row.
using Triangle = std::array<double, states*(states + 1) / 2>;
[[nodiscard]] constexpr std::size_t at(int row, int column) {
  return std::size_t(row * states - row * (row - 1) / 2 + column - row);
}

/// What one cell showed on one day.
struct CellDay {
  Vector right = {};     ///< right side of its normal equations
  double share = 0.0;    ///< of the day's weight in which it was read
  double squares = 0.0;  ///< weighted sum of its squared differences, mV²
  /// The same from one reading to the next, where the current stepped: what is ohmic shows there
  /// free of the curve.
  Vector step_right = {};
  double step_squares = 0.0, step_share = 0.0;
  double lowest_V = not_known, highest_V = not_known;
  double gap_Ah = not_known;     ///< behind the median at the end of a charge; negative: ahead
  double gap_u_Ah = 0.0;         ///< what this gap may be off by, beside what all gaps may be
  double gap_slope_mV_Ah = 1.0;  ///< of the curve where the gap was read
  double gap_at_least = 0.0;     ///< 1: it never came up, the gap is a bound
  double bled_Ah = 0.0;          ///< by the balancer, above what the median cell lost
};

/// One day of one pack.
struct Day {
  long day = 0;         ///< since 1970-01-01
  double hours = 0.0;   ///< covered by readings
  double weight = 0.0;  ///< minutes that went into the normal equations
  Triangle normal = {};
  Triangle step_normal = {};
  double steps = 0.0;  ///< how many
  std::vector<CellDay> cells;
  bool full = false;
  double full_top_V = 0.0;  ///< how high the median came, without its ohmic part
  double full_current_A = 0.0, full_slow_A = 0.0, full_C = 25.0;  ///< at the end of that charge
  /// What the counter missed from the last full to this one, Ah, and the hours in between; NaN
  /// where this is the first.
  double closing_Ah = not_known, closing_hours = 0.0;
  double charge_u_Ah = not_known;  ///< of the charge since full, on this day's average
  double days_since_full = not_known;
  double out_Ah = 0.0, in_Ah = 0.0, out_Wh = 0.0, in_Wh = 0.0;
  double mean_C = not_known, lowest_C = not_known, highest_C = not_known;
  double lowest_charge = not_known, highest_charge = not_known;  ///< state of charge passed through
  double hours_at_full = 0.0;                                    ///< median above 3.38 V
  double balancing_hours = 0.0;
};

/// Counts the charge since the last full, learns the current sensor's offset from full to full.
class ChargeCounter {
 public:
  explicit ChargeCounter(double capacity_Ah) : capacity_Ah_(capacity_Ah) {}
  void pass(double charge_Ah, double seconds);
  /// Charge cannot be counted over so many seconds: the count widens.
  void gap(double seconds, double typical_A);
  struct Closing {
    double missed_Ah, hours;
  };
  /// A full, `beyond_Ah` past the reference level. Nothing for the first.
  std::optional<Closing> full(double beyond_Ah);
  /// Near empty the curve itself tells the charge, to `u_Ah`.
  void seen(double since_full_Ah, double u_Ah);
  [[nodiscard]] bool known() const { return known_; }
  [[nodiscard]] double since_full_Ah() const { return since_full_Ah_; }
  [[nodiscard]] double u_Ah() const;
  [[nodiscard]] double seconds_since_full() const { return seconds_; }
  [[nodiscard]] bool ever_full() const { return ever_full_; }
  [[nodiscard]] double offset_A() const { return offset_A_; }
  [[nodiscard]] double offset_u_A() const;

 private:
  double capacity_Ah_;
  bool known_ = false, ever_full_ = false, counted_whole_ = false;
  double since_full_Ah_ = 0.0, start_u2_ = 0.0, seconds_ = 0.0, lost_u2_ = 0.0;
  double offset_A_ = 0.0, offset_u2_ = 0.15 * 0.15;
};

/// Takes readings in order and gives a day whenever one has ended.
class DayBuilder {
 public:
  explicit DayBuilder(PackFacts facts);
  /// Readings must not go back in time; call `new_segment` where counting may not go across.
  void add(const Reading& reading);
  /// Ends the day in hand.
  void finish();
  /// The days that have ended since the last call.
  [[nodiscard]] std::vector<Day> take();
  [[nodiscard]] const ChargeCounter& counter() const { return counter_; }
  [[nodiscard]] const PackFacts& facts() const { return facts_; }

 private:
  struct HeadSample {
    double Ah, current_A, slow_A, celsius, median_V;
  };
  void begin_day(long day);
  void end_day();
  void end_head();
  void steps(const std::array<double, 3>& row, const std::vector<double>& off_mV);
  void equations(const Reading& r, double median, double minutes);
  void head(const Reading& r, double median, double seconds);
  void bleed(const Reading& r, double seconds);

  PackFacts facts_;
  LearntCurve curve_;
  ChargeCounter counter_;
  std::vector<Day> done_;
  Day day_;
  bool open_ = false;
  double last_s_ = not_known, last_A_ = 0.0, slow_A_ = 0.0, last_power_W_ = 0.0;
  double rest_s_ = 0.0;
  double median_corrected_V_ = not_known;
  std::vector<float> sorted_;
  std::vector<HeadSample> head_;
  std::vector<float> head_V_;  ///< head_.size() rows of cells, without the common ohmic part
  double passed_Ah_ = 0.0;     ///< since the head began
  double discharging_s_ = 0.0;
  std::vector<double> last_off_mV_;  ///< of the reading before; empty where it was not used
  std::array<double, 3> last_row_ = {};
  double sum_C_ = 0.0, seconds_C_ = 0.0, charge_u_sum_ = 0.0, u_minutes_ = 0.0;
};

/// Factors of the ohmic and the slow resistance at a temperature, 1 at 25 °C.
struct Warmth {
  double ohmic, slow;
};
[[nodiscard]] Warmth warmth(double celsius);

}  // namespace watch
