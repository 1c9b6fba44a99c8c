// SPDX-License-Identifier: Apache-2.0
// How sure a measured capacity is, by the GUM, and what may be concluded from it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/quantity.hpp"

namespace bench {

/// A measured value and its standard uncertainty.
struct Measure {
  double value = 0.0;
  double u = 0.0;
};

/// What the tester's maker claims, or what is assumed of it. Half-widths of rectangular
/// distributions.
struct Tester {
  double gain_percent = 0.5;
  double offset_A = 0.05;
  double clock_ppm = 100.0;
  double temperature_halfwidth_K = 3.0;
  double cutoff_mV = 10.0;
  double voltage_gain_percent = 0.2;
  double repeatability_percent = 0.14;  ///< standard deviation of one test repeated [Tao2024]
  double room_halfwidth_K = 8.0;        ///< where the log has no temperature
  int wires = 0;  ///< 2: voltage is read over the current's leads; 4: on the cell; 0: not said
  double lead_mOhm = 0.0;      ///< both leads and their clips, where there are two wires
  double lead_percent = 20.0;  ///< half-width of that resistance
  bool stated = false;         ///< false: nobody said; these are assumptions

  /// Resistance that lies between the tester's voltage reading and the cell.
  [[nodiscard]] double drop_mOhm() const { return wires == 2 ? lead_mOhm : 0.0; }
  [[nodiscard]] double lead_halfwidth_mOhm() const { return drop_mOhm() * lead_percent / 100.0; }
};

/// One line of an uncertainty budget. [JCGM100]
struct BudgetLine {
  std::string_view input;
  double u = 0.0;            ///< standard uncertainty of the input
  double sensitivity = 0.0;  ///< Ah per unit of the input
  double contribution_Ah = 0.0;
};

struct CapacityTest {
  base::Amps current;  ///< mean, as the tester shows it
  base::Seconds time;
  base::Temperature temperature;
  double gain_percent = 0.0, offset_A = 0.0, clock_ppm = 0.0;
  double temperature_halfwidth_K = 0.0;
  double coefficient_percent_K = 0.1;  ///< capacity's change with temperature
  double coefficient_halfwidth_percent_K = 0.05;
  double cutoff_mV = 0.0, cutoff_slope_Ah_V = 0.0;
  double repeatability_Ah = 0.0;  ///< a standard deviation
  double interval_s = 0.0;        ///< between rows: start and end are known no better
  double edge_s = 0.0;  ///< without rows before the first or behind the last, at most flowing
  double away_from_25_Ah =
      0.0;  ///< half-width of what 25 °C would change, where it is not corrected
  double full_charge_Ah = 0.0;  ///< half-width of what the charge before may have left out
  double gap_Ah = 0.0;          ///< charge that a straight line carries across gaps
};

struct Capacity {
  base::AmpHours at_25C;
  base::AmpHours u;
  base::AmpHours expanded;  ///< k = 2, about 95 %
  std::vector<BudgetLine> budget;
};
/// Q25 = I t [1 + a (25 °C − T)], with its combined standard uncertainty. [JCGM100] 5.1.2
[[nodiscard]] Capacity capacity_with_uncertainty(const CapacityTest& test);

enum class Verdict { accept, reject, undecided };
[[nodiscard]] std::string_view name(Verdict verdict);
enum class LimitSide { lower, upper };
struct Judgement {
  Verdict verdict = Verdict::undecided;
  double probability_conforming = 0.0;
};
/// Accept where the chance of conforming is at least 1 − risk, reject where it is at most risk,
/// else undecided: a guard band on both sides. Normal distribution. [JCGM106] 7.2, 8.3
[[nodiscard]] Judgement judge(double value, double u, double limit, LimitSide side, double risk);

}  // namespace bench
