// SPDX-License-Identifier: Apache-2.0
#include "bench/runs.hpp"

#include <algorithm>
#include <cmath>

namespace bench {
namespace {

constexpr double cut_off_V = 3.05;  // a discharge that ends below has passed the knee
constexpr double full_V = 3.40;     // a charge that ends above has passed it at the other end
constexpr double least_rest_s = 60.0;

/// How far the cell's charge moved over the log, between its lowest and its highest.
double swing_Ah(const std::vector<Run>& runs) {
  double at = 0.0, low = 0.0, high = 0.0;
  for (const Run& r : runs) {
    at += r.kind == Kind::charge ? r.charge_Ah : -r.charge_Ah;
    low = std::min(low, at);
    high = std::max(high, at);
  }
  return high - low;
}

}  // namespace

std::vector<Run> find_runs(const std::vector<Phase>& phases) {
  std::vector<Run> runs;
  double rested_s = 0.0;
  for (const Phase& p : phases) {
    if (p.kind == Kind::rest) {
      rested_s += p.end_s - p.start_s;
      continue;
    }
    if (runs.empty() || runs.back().kind != p.kind) {
      const int cycle = runs.empty() ? 1
                                     : runs.back().cycle + (p.kind == Kind::charge &&
                                                            runs.back().kind == Kind::discharge);
      runs.push_back({.kind = p.kind,
                      .cycle = cycle,
                      .start_s = p.start_s,
                      .start_V = p.start_V,
                      .first = p.first});
    } else if (rested_s > 0.0) {
      ++runs.back().interruptions;
      runs.back().interrupted_s += rested_s;
    }
    rested_s = 0.0;
    Run& run = runs.back();
    run.charge_Ah += p.charge_Ah;
    run.energy_Wh += p.energy_Wh;
    run.end_s = p.end_s;
    run.flowing_s += p.end_s - p.start_s;
    run.end_V = run.limit_V = p.end_V;
    run.last = p.last;
    run.tapered = p.mode == Mode::constant_voltage;
    if (run.kind == Kind::charge && run.tapered) run.tail_Ah += p.charge_Ah;
    run.lasting = run.lasting || p.mode != Mode::pulse;
  }
  return runs;
}

bool finished(const Run& run) {
  return run.kind == Kind::charge && run.lasting &&
         (run.tapered ? run.limit_V >= full_V - 0.1 : run.limit_V >= full_V);
}

bool emptied(const Run& run) {
  return run.kind == Kind::discharge && run.lasting && run.limit_V <= cut_off_V;
}

std::optional<std::size_t> capacity_run(const std::vector<Run>& runs) {
  const double least_Ah = 0.5 * swing_Ah(runs);
  for (std::size_t i = runs.size(); i-- > 1;)
    if (emptied(runs[i]) && runs[i].charge_Ah >= least_Ah && finished(runs[i - 1])) return i;
  return std::nullopt;
}

std::optional<std::size_t> full_charge_run(const std::vector<Run>& runs) {
  const double least_Ah = 0.01 * swing_Ah(runs);  // the end of a tail is no charge of its own
  for (std::size_t i = runs.size(); i-- > 0;)
    if (finished(runs[i]) && runs[i].charge_Ah >= least_Ah) return i;
  return std::nullopt;
}

std::vector<Rest> find_rests(const std::vector<Phase>& phases, std::optional<double> capacity_Ah) {
  const std::vector<Run> runs = find_runs(phases);
  std::vector<Rest> rests;
  std::optional<Kind> after;
  std::optional<double> out_of_full_Ah;
  for (const Phase& p : phases) {
    if (p.kind != Kind::rest) {
      after = p.kind;
      if (out_of_full_Ah) *out_of_full_Ah += p.kind == Kind::discharge ? p.charge_Ah : -p.charge_Ah;
      for (const Run& r : runs)
        if (r.last == p.last && finished(r)) out_of_full_Ah = 0.0;
      continue;
    }
    if (p.end_s - p.start_s < least_rest_s) continue;
    Rest rest{.start_s = p.start_s,
              .seconds = p.end_s - p.start_s,
              .end_V = p.end_V,
              .after = after,
              .state_of_charge = std::nullopt,
              .first = p.first,
              .last = p.last};
    if (out_of_full_Ah && capacity_Ah && *capacity_Ah > 0.0)
      rest.state_of_charge = std::clamp(1.0 - *out_of_full_Ah / *capacity_Ah, 0.0, 1.0);
    rests.push_back(rest);
  }
  return rests;
}

std::optional<double> charge_at_start(const std::vector<Phase>& phases, double capacity_Ah) {
  const std::vector<Run> runs = find_runs(phases);
  std::optional<std::size_t> anchor;
  double anchored = 1.0;
  for (std::size_t i = runs.size(); i-- > 0 && !anchor;)
    if (finished(runs[i])) anchor = i;
  for (std::size_t i = runs.size(); i-- > 0 && !anchor;)
    if (emptied(runs[i])) anchor = i, anchored = 0.0;
  if (!anchor || capacity_Ah <= 0.0) return std::nullopt;
  double put_in_Ah = 0.0;
  for (const Phase& p : phases) {
    if (p.last > runs[*anchor].last) break;
    if (p.kind != Kind::rest) put_in_Ah += p.kind == Kind::charge ? p.charge_Ah : -p.charge_Ah;
  }
  return anchored - put_in_Ah / capacity_Ah;
}

std::optional<Drift> rest_drift(const logs::Log& log, const Rest& rest, double settle_h) {
  const double from_s = rest.start_s + settle_h * 3600.0;
  double n = 0.0, mean_t = 0.0, mean_v = 0.0, tt = 0.0, tv = 0.0, vv = 0.0;
  double first_s = 0.0, last_s = 0.0;
  for (std::size_t k = rest.first; k <= rest.last; ++k) {
    if (log.time_s[k] < from_s) continue;
    const double days = log.time_s[k] / 86400.0, mV = log.voltage_V[k] * 1e3;
    if (n == 0.0) first_s = log.time_s[k];
    last_s = log.time_s[k];
    n += 1.0;
    const double dt = days - mean_t, dv = mV - mean_v;
    mean_t += dt / n;
    mean_v += dv / n;
    tt += dt * (days - mean_t);
    vv += dv * (mV - mean_v);
    tv += dt * (mV - mean_v);
  }
  if (n < 4.0 || last_s - first_s < 12.0 * 3600.0 || tt <= 0.0) return std::nullopt;
  const double slope = tv / tt;
  const double scatter = std::max(0.0, vv - slope * tv) / (n - 2.0);
  // Neighbouring readings of a rest are not independent; a day of them counts as eight.
  const double independent = std::clamp(8.0 * (last_s - first_s) / 86400.0, 3.0, n);
  return Drift{slope, std::sqrt(scatter / tt * n / independent), (last_s - first_s) / 86400.0};
}

}  // namespace bench
