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

namespace {

/// Straight line through the rows of the `window_s` before row `i`, at time `at_s`: a cell that
/// still relaxes would go on doing so. Few rows: the last of them.
struct Baseline {
  double volts;
  double variance;  ///< of it, in those of one reading
};
Baseline before_step(const logs::Log& log, std::size_t i, double window_s, double at_s) {
  double n = 0.0, t = 0.0, v = 0.0, tt = 0.0, tv = 0.0;
  for (std::size_t k = i + 1; k-- > 0 && log.time_s[i] - log.time_s[k] <= window_s;) {
    const double x = log.time_s[k] - log.time_s[i];
    n += 1.0, t += x, v += log.voltage_V[k], tt += x * x, tv += x * log.voltage_V[k];
  }
  const double spread = n * tt - t * t;
  if (n < 5.0 || spread <= 0.0) return {log.voltage_V[i], 1.0};
  const double slope = (n * tv - t * v) / spread, x = at_s - log.time_s[i];
  return {(v - slope * t) / n + slope * x, 1.0 / n + (x - t / n) * (x - t / n) * n / spread};
}

/// One step read at a stated time after it. Nobody wrote when between two rows it came: the middle
/// is taken, and what the other moments would give is an uncertainty.
struct TimedStep {
  double mOhm = 0.0, time_s = 0.0, step_A = 0.0, timing_mOhm = 0.0;
  double variance = 2.0;  ///< of the voltages' difference, in those of one reading
  std::size_t row = 0;
  bool begins = false;  ///< the current grows; else it falls
};

std::optional<TimedStep> timed_step(const logs::Log& log, std::size_t i, double after_s,
                                    double latest_s) {
  const std::size_t n = log.rows();
  const double step = log.current_A[i + 1] - log.current_A[i];
  const double edge_s = log.time_s[i + 1] - log.time_s[i];
  const double at_s = log.time_s[i] + 0.5 * edge_s;
  const auto same = [&](std::size_t k, std::size_t as) {
    return std::abs(log.current_A[k] - log.current_A[as]) <= 0.05 * std::abs(step);
  };
  for (std::size_t j = i; j > 0 && log.time_s[i] - log.time_s[j] < after_s; --j)
    if (!same(j - 1, i)) return std::nullopt;  // it had not settled before
  std::size_t k = i + 1;
  while (k + 1 < n && log.time_s[k] < at_s + after_s) {
    ++k;
    if (!same(k, i + 1)) return std::nullopt;
  }
  if (log.time_s[k] < at_s + after_s) return std::nullopt;
  TimedStep s{.step_A = std::abs(step),
              .row = i,
              .begins = std::abs(log.current_A[i + 1]) > std::abs(log.current_A[i])};
  double volts = log.voltage_V[k], slope_V_s = 0.0;
  const Baseline base = before_step(log, i, std::max(after_s, 5.0 * edge_s), at_s);
  s.variance = base.variance + 1.0;
  s.time_s = log.time_s[k] - at_s;
  if (k > i + 1) {  // between the row before and this one
    slope_V_s = (log.voltage_V[k] - log.voltage_V[k - 1]) / (log.time_s[k] - log.time_s[k - 1]);
    volts -= slope_V_s * (s.time_s - after_s);
    const double w = (s.time_s - after_s) / (log.time_s[k] - log.time_s[k - 1]);
    s.variance = base.variance + w * w + (1.0 - w) * (1.0 - w);
    s.time_s = after_s;
  } else if (k + 1 < n && same(k + 1, k)) {
    slope_V_s = (log.voltage_V[k + 1] - log.voltage_V[k]) / (log.time_s[k + 1] - log.time_s[k]);
  }
  if (s.time_s > latest_s) return std::nullopt;
  const double amps = log.current_A[k] - log.current_A[i];
  s.mOhm = 1e3 * (base.volts - volts) / amps;
  s.timing_mOhm = 1e3 * std::abs(slope_V_s / amps) * edge_s / std::sqrt(12.0);
  return s;
}

/// What one reading of the voltage leaves open: noise, from how rows stray from their neighbours,
/// and the last digit.
double reading_V(const logs::Log& log) {
  std::vector<double> off;
  const std::size_t stride = std::max<std::size_t>(1, log.rows() / 4096);
  for (std::size_t k = 1; k + 1 < log.rows(); k += stride)
    off.push_back(std::abs(log.voltage_V[k] - 0.5 * (log.voltage_V[k - 1] + log.voltage_V[k + 1])));
  const double noise_V = off.empty() ? 0.0 : 1.4826 * base::median(off) / std::sqrt(1.5);
  return std::hypot(noise_V, log.voltage_step_V / std::sqrt(12.0));
}

}  // namespace

std::optional<DcResistance> dc_resistance(const logs::Log& log, const Tester& tester,
                                          double after_s, double latest_s) {
  double top = 0.0;
  for (const double i : log.current_A) top = std::max(top, std::abs(i));
  if (top == 0.0) return std::nullopt;
  std::vector<TimedStep> steps;
  for (std::size_t i = 0; i + 1 < log.rows(); ++i)
    if (std::abs(log.current_A[i + 1] - log.current_A[i]) >= 0.2 * top)
      if (const auto step = timed_step(log, i, after_s, latest_s)) steps.push_back(*step);
  // Near full and empty the open-circuit voltage itself moves within seconds: take steps on the
  // flat part where there are any. A current that ends is another step than one that begins: the
  // cell still relaxes from all that went before.
  const auto flat = [&](const TimedStep& s) {
    return log.voltage_V[s.row] >= lowest_flat_V && log.voltage_V[s.row] <= highest_flat_V;
  };
  DcResistance result;
  result.on_flat_part = std::any_of(steps.begin(), steps.end(), flat);
  if (result.on_flat_part) std::erase_if(steps, [&](const TimedStep& s) { return !flat(s); });
  if (std::any_of(steps.begin(), steps.end(), [](const TimedStep& s) { return s.begins; }))
    std::erase_if(steps, [](const TimedStep& s) { return !s.begins; });
  if (steps.empty()) return std::nullopt;
  std::vector<double> values, times, sizes;
  double timing = 0.0, variance = 0.0;
  for (const TimedStep& s : steps) {
    variance += s.variance / double(steps.size());
    values.push_back(s.mOhm), times.push_back(s.time_s), sizes.push_back(s.step_A);
    timing += s.timing_mOhm * s.timing_mOhm / double(steps.size());
  }
  const double value = base::median(values);
  if (value <= 0.0) return std::nullopt;
  // Spread of the mean; what noise and the last digit leave open in two readings over the step;
  // when the step came; gain of both meters; leads. Few steps say little about their spread: noise
  // counts at least.
  const double n = double(values.size());
  const double one_mOhm = 1e3 * std::sqrt(variance) * reading_V(log) / base::median(sizes);
  const double of_a_median = n > 8.0 ? 1.2533 : n > 2.0 ? 1.15 : 1.0;
  const double seen = n > 5.0 ? 1.4826 * base::median_absolute_deviation(values) : 0.0;
  const double spread = std::max(seen, one_mOhm) / std::sqrt(n) * of_a_median;
  const double gain =
      value * std::hypot(tester.gain_percent, tester.voltage_gain_percent) / 100.0 / std::sqrt(3.0);
  const double leads_mOhm = tester.lead_halfwidth_mOhm() / std::sqrt(3.0);
  result.mOhm = {value,
                 std::sqrt(spread * spread + timing + gain * gain + leads_mOhm * leads_mOhm)};
  result.time_s = base::median(times);
  result.steps = steps.size();
  return result;
}

}  // namespace bench
