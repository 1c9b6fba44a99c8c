// SPDX-License-Identifier: Apache-2.0
#include "logs/dirt.hpp"

#include <algorithm>
#include <cmath>

#include "base/statistics.hpp"

namespace logs {
namespace {

// No single cell of this trade reads outside these, not even abused; meters' "no value" marks do.
constexpr double lowest_cell_V = -1.0, highest_cell_V = 6.0, largest_current_A = 5000.0;
constexpr double jump_V = 0.8;         // no LFP cell moves this far from one row to the next
constexpr double steady_share = 0.02;  // of the usual largest current
constexpr double spike_share = 0.10;
constexpr double least_spike_V = 0.02;
constexpr std::size_t stuck_rows = 30;
constexpr double flattest_V = 0.036;  // per unit of charge, [Sunil2025] between 75 and 97 %

/// Ohms that the voltage answers to a step of the current with, from row to row; zero where no step
/// shows it. Its sign is that of the file's current.
double answer_Ohm(std::span<const double> v, std::span<const double> i, double top) {
  std::vector<double> ratios;
  for (std::size_t k = 1; k < v.size() && ratios.size() < 4096; ++k) {
    const double step = i[k] - i[k - 1];
    if (std::abs(step) > spike_share * top && v[k] != v[k - 1])
      ratios.push_back(std::abs((v[k] - v[k - 1]) / step));
  }
  return ratios.size() < 2 ? 0.0 : base::median(ratios);
}

struct Neighbours {
  double middle, apart;
};
Neighbours around(std::span<const double> x, std::size_t k) {
  return {0.5 * (x[k - 1] + x[k + 1]), std::abs(x[k + 1] - x[k - 1])};
}

}  // namespace

double usual_top(std::span<const double> values) {
  // A sample is enough of a long log: the top one percent lasts.
  std::vector<double> sizes;
  const std::size_t stride = std::max<std::size_t>(1, values.size() / 8192);
  for (std::size_t k = 0; k < values.size(); k += stride) sizes.push_back(std::abs(values[k]));
  if (sizes.empty()) return 0.0;
  const auto at = sizes.begin() + static_cast<std::ptrdiff_t>((sizes.size() - 1) * 99 / 100);
  std::nth_element(sizes.begin(), at, sizes.end());
  return *at > 0.0 ? *at : *std::max_element(sizes.begin(), sizes.end());
}

std::string_view reason(Dirt dirt) {
  switch (dirt) {
    case Dirt::impossible:
      return "a reading that no single cell and its tester can give";
    case Dirt::voltage_jump:
      return "a voltage that no cell reaches from one row to the next";
    case Dirt::voltage_spike:
      return "a spike of voltage, one row long, at a steady current";
    case Dirt::current_spike:
      return "a spike of current, one row long, that the voltage does not answer";
    case Dirt::none:
      break;
  }
  return "";
}

double resolution(std::span<const double> values) {
  double least = 0.0;
  for (std::size_t k = 1; k < values.size(); ++k) {
    const double d = std::abs(values[k] - values[k - 1]);
    if (d > 1e-9 && (least == 0.0 || d < least)) least = d;
  }
  return least;
}

void DirtFinder::learn(std::span<const double> v, std::span<const double> i) {
  if (batches_++ > 8 && batches_ % 8 != 0) return;  // a log that long has shown what it is
  top_A_ = std::max(top_A_, usual_top(i));
  const double step = resolution(v.first(std::min<std::size_t>(v.size(), 65536)));
  if (step > 0.0) step_V_ = step_V_ > 0.0 ? std::min(step_V_, step) : step;
  if (ohm_ == 0.0) ohm_ = answer_Ohm(v, i, top_A_);
  std::vector<double> off;
  const std::size_t stride = std::max<std::size_t>(1, v.size() / 1024);
  for (std::size_t k = 1; k + 1 < v.size(); k += stride)
    off.push_back(std::abs(v[k] - around(v, k).middle));
  if (!off.empty()) noise_V_ = std::max(noise_V_, 1.4826 * base::median(off));
}

std::span<const Dirt> DirtFinder::find(std::span<const double> voltage_V,
                                       std::span<const double> current_A) {
  const std::size_t n = voltage_V.size();
  dirt_.assign(n, Dirt::none);
  std::size_t impossible = 0;
  for (std::size_t k = 0; k < n; ++k) {
    // Written so that a NaN would be impossible too.
    const bool could_be = voltage_V[k] >= lowest_cell_V && voltage_V[k] <= highest_cell_V &&
                          std::abs(current_A[k]) <= largest_current_A;
    if (!could_be) dirt_[k] = Dirt::impossible, ++impossible;
  }
  row_.clear();
  if (impossible == 0) {
    find_among_possible(voltage_V, current_A);
    return dirt_;
  }
  // What follows compares neighbours, so it looks at the rows that could be.
  voltage_.clear();
  current_.clear();
  for (std::size_t k = 0; k < n; ++k)
    if (dirt_[k] == Dirt::none)
      voltage_.push_back(voltage_V[k]), current_.push_back(current_A[k]), row_.push_back(k);
  find_among_possible(voltage_, current_);
  return dirt_;
}

void DirtFinder::find_among_possible(std::span<const double> voltage_V,
                                     std::span<const double> current_A) {
  const std::size_t n = voltage_V.size();
  if (n < 5) return;
  learn(voltage_V, current_A);
  const auto mark = [&](std::size_t k, Dirt what) { dirt_[row_.empty() ? k : row_[k]] = what; };
  const double spike_V = std::max({least_spike_V, 20.0 * noise_V_, 4.0 * step_V_});
  const double spike_A = spike_share * top_A_, steady_A = steady_share * top_A_;
  double good_V = voltage_V[0];
  bool good_known = voltage_V[0] > 1.0 && voltage_V[0] < 4.3;
  for (std::size_t k = 0; k < n; ++k) {
    const double volts = voltage_V[k];
    if (volts < 1.0 || volts > 4.3) {
      const bool leaves = good_known ? std::abs(volts - good_V) > jump_V
                                     // nothing before it: what comes next gives it away
                                     : k + 1 < n && std::abs(voltage_V[k + 1] - volts) > jump_V;
      if (leaves) {
        mark(k, Dirt::voltage_jump);
        continue;
      }
    }
    good_V = volts, good_known = true;
    if (k == 0 || k + 1 >= n) continue;
    const double from = std::abs(current_A[k] - current_A[k - 1]),
                 to = std::abs(current_A[k + 1] - current_A[k]);
    if (from <= steady_A && to <= steady_A) {
      if (std::abs(volts - voltage_V[k - 1]) <= spike_V ||
          std::abs(volts - voltage_V[k + 1]) <= spike_V)
        continue;
      const auto [middle, apart] = around(voltage_V, k);
      const double off = std::abs(volts - middle);
      if (off > spike_V && off > 5.0 * apart) mark(k, Dirt::voltage_spike), good_V = middle;
      continue;
    }
    if (from <= spike_A || to <= spike_A) continue;
    const auto [middle_A, apart_A] = around(current_A, k);
    const double off_A = std::abs(current_A[k] - middle_A);
    if (off_A <= spike_A || apart_A > 0.2 * off_A) continue;
    const double answered_V = std::abs(volts - around(voltage_V, k).middle);
    const double expected_V = ohm_ * off_A;
    const bool would_show = expected_V > 4.0 * std::max(step_V_, noise_V_);
    const bool absurd = off_A > 3.0 * top_A_;
    if ((would_show && answered_V < 0.25 * expected_V) || (absurd && answered_V < 0.25 * jump_V))
      mark(k, Dirt::current_spike);
  }
}

Stuck find_stuck(const Log& log) {
  Stuck stuck;
  const std::size_t n = log.rows();
  const std::span<const double> voltage(log.voltage_V), current(log.current_A);
  const double top = usual_top(current);
  if (n < 2 * stuck_rows || top <= 0.0) return stuck;
  const double ohm = answer_Ohm(voltage, current, top);
  const double step_V = std::max(resolution(voltage), 1e-4);
  double run_As = 0.0, largest_run_As = 0.0;
  for (std::size_t k = 0; k < n; ++k) {
    run_As = std::abs(current[k]) < 0.01 * top || (k > 0 && current[k] * current[k - 1] < 0.0)
                 ? 0.0
                 : run_As + std::abs(log.charge_As[k]);
    largest_run_As = std::max(largest_run_As, run_As);
  }
  for (std::size_t first = 0; first < n;) {
    std::size_t last = first;
    double low = current[first], high = low, moved_As = std::abs(log.charge_As[first]);
    while (last + 1 < n && voltage[last + 1] == voltage[first]) {
      ++last;
      low = std::min(low, current[last]);
      high = std::max(high, current[last]);
      moved_As += std::abs(log.charge_As[last]);
    }
    const bool long_enough = last - first + 1 >= stuck_rows;
    const bool unanswered =
        high - low > 0.3 * top && low * high <= 0.0 && ohm * (high - low) > 8.0 * step_V;
    // Even the flattest part of the curve rises so much while this charge moves at a steady
    // current.
    const bool too_flat = high - low < 0.05 * top && largest_run_As > 0.0 &&
                          moved_As / largest_run_As * flattest_V > 4.0 * step_V;
    if (long_enough && (unanswered || too_flat)) {
      if (stuck.voltage_s == 0.0) stuck.voltage_row = first;
      stuck.voltage_s += log.time_s[last] - log.time_s[first];
    }
    first = last + 1;
  }
  for (std::size_t first = 0; first < n;) {
    std::size_t last = first;
    double jump = 0.0;  // the way the voltage goes when this current stops
    while (last + 1 < n && current[last + 1] == current[first]) {
      ++last;
      jump =
          std::max(jump, (voltage[last] - voltage[last - 1]) * (current[first] > 0.0 ? 1.0 : -1.0));
    }
    if (last - first + 1 >= stuck_rows && std::abs(current[first]) > 0.05 * top && ohm > 0.0 &&
        jump > 0.6 * ohm * std::abs(current[first]) && jump > 8.0 * step_V && jump > 0.01) {
      if (stuck.current_s == 0.0) stuck.current_row = first;
      stuck.current_s += log.time_s[last] - log.time_s[first];
    }
    first = last + 1;
  }
  return stuck;
}

}  // namespace logs
