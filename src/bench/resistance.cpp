// SPDX-License-Identifier: Apache-2.0
#include "bench/resistance.hpp"

#include <algorithm>
#include <cmath>

#include "base/statistics.hpp"

namespace bench {
namespace {

constexpr double lowest_flat_V = 3.10, highest_flat_V = 3.40;

}  // namespace

std::vector<StepResistance> step_resistances(const logs::Log& log, double after_s, double least_A) {
  std::vector<StepResistance> found;
  const std::size_t n = log.rows();
  for (std::size_t i = 0; i + 1 < n; ++i) {
    const double step = log.current_A[i + 1] - log.current_A[i];
    if (std::abs(step) < least_A) continue;
    std::size_t k = i + 1;
    bool steady = true;
    bool settled_before = true;  // for as long as is waited after
    for (std::size_t j = i; j > 0 && settled_before && log.time_s[i] - log.time_s[j] < after_s; --j)
      settled_before = std::abs(log.current_A[i] - log.current_A[j - 1]) <= 0.05 * std::abs(step);
    while (k + 1 < n && log.time_s[k] - log.time_s[i] < after_s && steady) {
      ++k;
      steady = std::abs(log.current_A[k] - log.current_A[i + 1]) <= 0.05 * std::abs(step);
    }
    const double waited = log.time_s[k] - log.time_s[i];
    if (after_s > 0.0 && (!steady || !settled_before || waited < after_s)) continue;
    const double jump =
        log.voltage_V[i] - log.voltage_V[k];  // falls as the discharge current rises
    const double ohms = jump / (log.current_A[k] - log.current_A[i]);
    found.push_back({ohms * 1e3, waited, i, std::abs(step)});
  }
  return found;
}

std::optional<DcResistance> dc_resistance(const logs::Log& log, const Tester& tester,
                                          double after_s, double latest_s) {
  double top = 0.0;
  for (const double i : log.current_A) top = std::max(top, std::abs(i));
  if (top == 0.0) return std::nullopt;
  auto steps = step_resistances(log, after_s, 0.2 * top);
  std::erase_if(steps, [&](const StepResistance& s) { return s.time_s > latest_s; });
  // Near full and empty the open-circuit voltage itself moves within seconds: take steps on the
  // flat part where there are any.
  const auto flat = [&](const StepResistance& s) {
    return log.voltage_V[s.row] >= lowest_flat_V && log.voltage_V[s.row] <= highest_flat_V;
  };
  DcResistance result;
  result.on_flat_part = std::any_of(steps.begin(), steps.end(), flat);
  if (result.on_flat_part) std::erase_if(steps, [&](const StepResistance& s) { return !flat(s); });
  if (steps.empty()) return std::nullopt;
  std::vector<double> values, times;
  for (const StepResistance& s : steps) values.push_back(s.mOhm), times.push_back(s.time_s);
  const double value = base::median(values);
  // Spread of the mean; what noise and the last digit leave open in two readings over the step;
  // gain of both meters; leads. Few steps say little about their spread: noise counts at least.
  std::vector<double> sizes, off;
  for (const StepResistance& s : steps) sizes.push_back(s.step_A);
  const std::size_t stride = std::max<std::size_t>(1, log.rows() / 4096);
  for (std::size_t k = 1; k + 1 < log.rows(); k += stride)
    off.push_back(std::abs(log.voltage_V[k] - 0.5 * (log.voltage_V[k - 1] + log.voltage_V[k + 1])));
  const double noise_V = 1.4826 * base::median(off) / std::sqrt(1.5);
  const double digit_V = std::max(0.001, log.voltage_step_V) / std::sqrt(3.0);
  const double n = double(values.size());
  const double one_mOhm = 1e3 * std::sqrt(2.0) * std::hypot(noise_V, digit_V) / base::median(sizes);
  const double spread = std::max(1.4826 * base::median_absolute_deviation(values), one_mOhm) /
                        std::sqrt(n) * 1.2533;  // of a median
  const double gain =
      value * std::hypot(tester.gain_percent, tester.voltage_gain_percent) / 100.0 / std::sqrt(3.0);
  const double leads_mOhm = tester.lead_halfwidth_mOhm() / std::sqrt(3.0);
  if (value <= 0.0) return std::nullopt;
  result.mOhm = {value, std::sqrt(spread * spread + gain * gain + leads_mOhm * leads_mOhm)};
  result.time_s = base::median(times);
  result.steps = steps.size();
  return result;
}

}  // namespace bench
