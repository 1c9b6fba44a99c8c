// SPDX-License-Identifier: Apache-2.0
#include "bench/leads.hpp"

#include <algorithm>
#include <cmath>

#include "base/statistics.hpp"
#include "bench/resistance.hpp"
#include "cell/rested_charge.hpp"

namespace bench {
namespace {

namespace units = base::units;

constexpr double a_cells_mOhm_Ah = 70.0, a_cells_halfwidth = 50.0;  // from row to row, close rows
constexpr double far_rows_mOhm_Ah = 150.0,
                 far_rows_halfwidth = 100.0;  // rows over five seconds apart
constexpr double odd_mOhm_Ah = 600.0;
constexpr double close_rows_s = 5.0;
constexpr double settled_share = 0.03;  // less left open than this, and it was empty

}  // namespace

std::optional<Measure> leads_seen(const logs::Log& log, double moved_Ah) {
  if (moved_Ah <= 0.0) return std::nullopt;
  double top = 0.0;
  for (const double i : log.current_A) top = std::max(top, std::abs(i));
  if (top == 0.0) return std::nullopt;
  std::vector<double> values, gaps;
  for (const StepResistance& s : step_resistances(log, 0.0, 0.2 * top)) {
    values.push_back(s.mOhm);
    gaps.push_back(log.time_s[s.row + 1] - log.time_s[s.row]);
  }
  if (values.empty()) return std::nullopt;
  const double value = base::median(values);
  if (value * moved_Ah < odd_mOhm_Ah) return std::nullopt;
  const bool close = base::median(gaps) <= close_rows_s;
  const double own = (close ? a_cells_mOhm_Ah : far_rows_mOhm_Ah) / moved_Ah,
               half = (close ? a_cells_halfwidth : far_rows_halfwidth) / moved_Ah;
  const double spread = 1.4826 * base::median_absolute_deviation(values);
  return Measure{value - own,
                 std::hypot(half / std::sqrt(3.0), spread / std::sqrt(double(values.size())))};
}

std::optional<std::array<double, 2>> capacity_left_open(const EarlyEnd& end) {
  if (end.charge_Ah <= 0.0) return std::nullopt;
  // What the cell's own resistance drops under this current; its share of the capacity is usual.
  const double own_V = end.current_A * a_cells_mOhm_Ah * 2.0 * 1e-3 / end.charge_Ah;
  const auto span =
      cell::charge_from_rest({.voltage = (end.end_V + own_V) * units::V,
                              .half_width = (0.5 * own_V + 2.0 * end.u_end_V) * units::V,
                              .before = cell::Before::discharged,
                              .rest_h = 24.0});
  if (!span) return std::nullopt;
  const double low = std::min(span->low, 0.95), high = std::min(span->high, 0.95);
  if (high < settled_share) return std::nullopt;
  return std::array<double, 2>{end.charge_Ah / (1.0 - low), end.charge_Ah / (1.0 - high)};
}

}  // namespace bench
