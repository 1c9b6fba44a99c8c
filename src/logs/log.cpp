// SPDX-License-Identifier: Apache-2.0
#include "logs/log.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"

namespace logs {
namespace {

constexpr double step_share = 0.02;    // of the largest current: a step worth keeping whole
constexpr double after_step_s = 65.0;  // rows that step resistances read
constexpr double longest_joined_s = 900.0;
constexpr double least_flow_A = 1e-3;

}  // namespace

std::size_t Log::rows_left_out() const {
  std::size_t n = 0;
  for (const LeftOut& l : left_out) n += l.count;
  return n;
}

void fill_shares(Log& log, std::size_t from) {
  const std::size_t n = log.rows();
  for (std::vector<double>* column : {&log.share_s, &log.charge_As, &log.energy_Ws})
    column->resize(n, 0.0);
  /// What of the interval from row k to the next is row k's.
  const auto own_part = [&](std::size_t k, double dt) {
    if (log.written_on_change) return dt;
    if (log.edge_s > 0.0 && dt > log.edge_s) [[unlikely]] {
      const bool here = std::abs(log.current_A[k]) > least_flow_A,
                 next = std::abs(log.current_A[k + 1]) > least_flow_A;
      if (here != next) return here ? 0.0 : dt;
    }
    return 0.5 * dt;
  };
  /// Across a gap that was counted: how much of the straight line really flowed.
  const auto flowed = [&](std::size_t k, double dt) {
    if (log.gap_s <= 0.0 || dt <= log.gap_s) [[likely]]
      return 1.0;
    for (const Gap& gap : log.gaps)
      if (gap.counted && gap.flowing && gap.start_s == log.time_s[k] && gap.doubtful_Ah > 0.0)
        return gap.counter_Ah / gap.doubtful_Ah;
    return 1.0;
  };
  double before = 0.0;         // of the interval before, what is the next row's
  double flowed_before = 1.0;  // and how much of it flowed
  if (from > 0 && from < n) {
    const double dt = log.time_s[from] - log.time_s[from - 1];
    const double own = own_part(from - 1, dt);
    before = dt - own;
    flowed_before = flowed(from - 1, dt);
    const double charge = own * flowed_before * log.current_A[from - 1];
    log.share_s[from - 1] += own;
    log.charge_As[from - 1] += charge;
    log.energy_Ws[from - 1] += charge * log.voltage_V[from - 1];
  }
  for (std::size_t i = from; i < n; ++i) {
    const double dt = i + 1 < n ? log.time_s[i + 1] - log.time_s[i] : 0.0;
    const double own = i + 1 < n ? own_part(i, dt) : 0.0;
    const double flowed_after = flowed(i, dt);
    log.share_s[i] = before + own;
    log.charge_As[i] = (before * flowed_before + own * flowed_after) * log.current_A[i];
    before = dt - own;
    flowed_before = flowed_after;
    log.energy_Ws[i] = log.charge_As[i] * log.voltage_V[i];
  }
}

void condense(Log& log, std::size_t most, double& width) {
  CHECK(log.share_s.size() == log.rows() && most >= 2);
  double top = 0.0;
  for (const double i : log.current_A) top = std::max(top, std::abs(i));
  const auto sign = [](double x) { return x > 0.0 ? 1 : x < 0.0 ? -1 : 0; };
  const double least_A = std::max(0.001 * top, 2.0 * log.current_step_A);
  const double least_V = std::max(0.0005, 2.0 * log.voltage_step_V);
  if (log.file_rows == 0) log.file_rows = log.rows();
  while (log.rows() > most) {
    const std::size_t n = log.rows();
    const double near_A = least_A * width, near_V = least_V * width;
    std::size_t head = 0;
    double step_at = log.time_s.front();
    for (std::size_t i = 1; i < n; ++i) {
      const double change = log.current_A[i] - log.current_A[i - 1];
      const double next = i + 1 < n ? log.current_A[i + 1] - log.current_A[i] : 0.0;
      const double limit = std::max(step_share * top, near_A);
      if (std::abs(change) > limit) step_at = log.time_s[i];
      const bool join = i + 1 < n && log.time_s[i] - step_at > after_step_s &&
                        std::abs(next) <= limit &&
                        sign(log.current_A[i]) == sign(log.current_A[head]) &&
                        std::abs(log.current_A[i] - log.current_A[head]) <= near_A &&
                        std::abs(log.voltage_V[i] - log.voltage_V[head]) <= near_V &&
                        log.time_s[i] - log.time_s[head] <= longest_joined_s;
      if (join) {
        log.share_s[head] += log.share_s[i];
        log.charge_As[head] += log.charge_As[i];
        log.energy_Ws[head] += log.energy_Ws[i];
        continue;
      }
      ++head;
      for (std::vector<double>* column :
           {&log.time_s, &log.voltage_V, &log.current_A, &log.temperature_C, &log.share_s,
            &log.charge_As, &log.energy_Ws})
        if (!column->empty()) (*column)[head] = (*column)[i];
    }
    for (std::vector<double>* column :
         {&log.time_s, &log.voltage_V, &log.current_A, &log.temperature_C, &log.share_s,
          &log.charge_As, &log.energy_Ws})
      if (!column->empty()) column->resize(head + 1);
    if (log.rows() <= most) break;
    if (near_A > 4.0 * top && near_V > 8.0) break;  // every row is a step: nothing to join
    width *= 2.0;
  }
}

}  // namespace logs
