// SPDX-License-Identifier: Apache-2.0
#include "watch/verdict.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "cell/chemistry.hpp"

namespace watch {

Balance judge_balance(const RestedReadings& readings) {
  CHECK(!readings.voltages_V.empty());
  Balance result;
  double common_low = 0.0, common_high = 1.0;
  result.lowest_charge = 1.0;
  result.highest_charge = 0.0;
  for (const double v : readings.voltages_V) {
    const auto span = cell::charge_from_rest(v * base::units::V, readings.half_width);
    // Beyond the table's ends a cell is simply empty or full.
    const double low = span ? span->low : v < 3.0 ? 0.0 : 1.0, high = span ? span->high : low;
    result.lowest_charge = std::min(result.lowest_charge, low);
    result.highest_charge = std::max(result.highest_charge, high);
    result.widest_span = std::max(result.widest_span, high - low);
    common_low = std::max(common_low, low);
    common_high = std::min(common_high, high);
  }
  if (readings.rest < 0.5 * base::units::h) {
    result.verdict = BalanceVerdict::refused_not_rested;
    result.sentence =
        "Rested for less than half an hour: the voltages still move. Read again later.";
  } else if (result.widest_span > 0.05) {
    result.verdict = BalanceVerdict::refused_flat;
    result.sentence = fmt::format(
        "These voltages lie on the flat part: they fit any charge from {:.0f} to {:.0f} % and say nothing about balance. Equal voltage is not equal charge.",
        result.lowest_charge * 100.0, result.highest_charge * 100.0);
  } else if (common_low <= common_high) {
    result.verdict = BalanceVerdict::within;
    result.sentence = "All readings allow one common state of charge.";
  } else {
    result.verdict = BalanceVerdict::apart;
    result.sentence = fmt::format("The cells are apart by at least {:.1f} % of charge.",
                                  (common_low - common_high) * 100.0);
  }
  return result;
}

OffVerdict tell_apart(std::span<const double> off_mV, std::span<const double> current_A,
                      double half_width_mV) {
  CHECK(off_mV.size() == current_A.size() && off_mV.size() >= 3);
  const double n = double(off_mV.size());
  double mean = 0.0, mean_A = 0.0, most_A = 0.0;
  for (std::size_t i = 0; i < off_mV.size(); ++i) {
    mean += off_mV[i] / n;
    mean_A += current_A[i] / n;
    most_A = std::max(most_A, std::abs(current_A[i]));
  }
  double both = 0.0, squares = 0.0;
  for (std::size_t i = 0; i < off_mV.size(); ++i) {
    both += (off_mV[i] - mean) * (current_A[i] - mean_A);
    squares += (current_A[i] - mean_A) * (current_A[i] - mean_A);
  }
  OffVerdict v;
  const double spread_A = std::sqrt(squares / n);
  if (spread_A < 0.1 * most_A || most_A <= 0.0) {  // a tenth: common practice, no source
    v.offset_mV = mean;
    if (std::abs(mean) <= half_width_mV) {
      v.sentence = "Nothing lies off.";
      return v;
    }
    v.what = OffReading::undecided;
    v.sentence =
        "At one current a resistance and a false reading look alike: undecided. Repeat at another "
        "current, or at rest.";
    return v;
  }
  const double slope = both / squares;
  v.offset_mV = mean - slope * mean_A;
  v.resistance_mOhm = -slope;
  const bool ohmic = std::abs(slope) * most_A > half_width_mV,
             steady = std::abs(v.offset_mV) > half_width_mV;
  if (ohmic) {
    v.what = OffReading::ohmic;
    v.sentence =
        "It grows with the current: a joint, or the cell's resistance. Measure across the bar.";
  } else if (steady) {
    v.what = OffReading::steady;
    v.sentence =
        "It is the same at every current: a sense lead, or the meter. Measure at the terminal.";
  } else {
    v.sentence = "Nothing lies off.";
  }
  return v;
}

}  // namespace watch
