// SPDX-License-Identifier: Apache-2.0
#include "tests/judge/watch/judging.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/statistics.hpp"

namespace judge {
namespace {

watch::Vector states_of(const Truth& t) {
  return {t.offset_Ah,      t.leak_mA,  t.capacity,  t.resistance_mOhm,
          watch::not_known, t.sense_mV, t.joint_mOhm};
}

/// Intervals of all cells against the truth of that day.
void look_at_intervals(const watch::Estimator& e, const std::vector<Truth>& now,
                       const std::vector<Truth>& base, double days, Outcome& o) {
  for (int j = 0; j < e.cells(); ++j) {
    const watch::CellReport r = e.report(j);
    const watch::Vector a = states_of(now[std::size_t(j)]), b = states_of(base[std::size_t(j)]);
    for (std::size_t k = 0; k < watch::states; ++k) {
      if (!watch::known(a[k])) continue;
      double change = a[k] - b[k];
      if (k == 0) change -= 0.024 * b[1] * days;  // what its leak at the baseline explains
      for (std::size_t which : {0, 1}) {
        const watch::Estimate& est = which == 0 ? r.level[k] : r.change[k];
        const double off = est.value - (which == 0 ? a[k] : change);
        ++o.asked[which][k];
        o.inside[which][k] += std::abs(off) <= 1.96 * est.u;
        o.squares[which][k] += off * off;
        o.claimed[which][k] += est.u * est.u;
      }
    }
  }
}

}  // namespace

Outcome run(const Line& line, std::uint64_t seed, const watch::Tuning& tuning) {
  Scene scene = line.scene;
  scene.seed = seed;
  // The cell at fault and the day differ from run to run.
  const int shift = int(seed % 13);
  for (Fault& f : scene.faults) {
    f.cell = (f.cell + shift) % (scene.series - 1);
    f.from_day += double(seed % 5);
  }
  watch::PackFacts facts;
  facts.series = scene.series;
  facts.capacity_Ah = scene.capacity_Ah;
  if (scene.balancer) facts.bleeding = watch::Bleeding{3.42, 0.010, 0.1};
  watch::DayBuilder builder(facts);
  watch::Estimator estimator(facts, tuning);
  Outcome o;
  std::vector<Truth> truth, base;
  std::vector<bool> alarmed(static_cast<std::size_t>(scene.series), false);
  const double onset = scene.faults.empty() ? 1e9 : scene.faults[0].from_day;
  double stop_after = scene.days;
  long days = 0;
  const auto judge_day = [&](const watch::Day& day) {
    estimator.add(day);
    const double since = double(day.day) - scene.first_day - onset;
    o.watched_days = double(day.day) - scene.first_day + 1.0;
    if (estimator.baseline_day() == day.day) base = truth;
    for (int j = 0; j < scene.series; ++j) {
      const watch::CellReport r = estimator.report(j);
      const auto mine = std::find_if(scene.faults.begin(), scene.faults.end(), [&](const Fault& f) {
        return f.cell == j || (f.kind == watch::Kind::sense && f.cell + 1 == j);
      });
      const bool faulty = mine != scene.faults.end();
      if (r.alarm && !alarmed[std::size_t(j)]) {
        alarmed[std::size_t(j)] = true;
        if (!faulty) {
          ++o.other_alarms;
          o.wrongly.push_back(fmt::format("cell {} as {} on day {:.0f}", j + 1,
                                          r.kind ? name(*r.kind) : "?",
                                          double(day.day) - scene.first_day));
        } else if (since < 0.0)
          ++o.early_alarms;
        else if (!o.days_to_alarm && (mine == scene.faults.begin())) {
          o.days_to_alarm = since;
          o.named = r.kind;
          stop_after = std::min(stop_after,
                                std::max(double(day.day) - scene.first_day + 40.0, onset + 125.0));
        }
      }
      if (!faulty && r.note) ++o.other_notes;
      if (!scene.faults.empty() && j == scene.faults[0].cell && since >= 0.0) {
        if (r.note && !o.days_to_note) o.days_to_note = since;
        const double marks[6] = {30, 60, 90, 120, 180, 240};
        const double p = r.probability[std::size_t(scene.faults[0].kind)];
        for (std::size_t k = 0; k < 6; ++k)
          if (since <= marks[k]) o.p_right[k] = p;
      }
      // The first day of a fault that grows is no fair look.
      if (days % 30 == 29 && days > 60) {
        const bool there = faulty && since >= 0.0;
        o.looks.push_back({1.0 - r.healthy, there});
      }
    }
    if (!base.empty() && days % 50 == 49 && double(day.day) - scene.first_day < stop_after)
      look_at_intervals(estimator, truth, base, double(day.day - *estimator.baseline_day()), o);
    ++days;
  };
  play(
      scene,
      [&](const watch::Reading& r) {
        builder.add(r);
        return r.time_s < (scene.first_day + stop_after) * 86400.0;
      },
      [&](long, const std::vector<Truth>& t) {
        for (const watch::Day& day : builder.take()) judge_day(day);
        truth = t;
      });
  for (int j = 0; j < scene.series; ++j) o.cells_told_sound += estimator.report(j).seen;
  return o;
}

void Honesty::add(const Outcome& o) {
  for (const Outcome::Look& l : o.looks) {
    const auto k = std::size_t(std::min(9.0, l.p_fault * 10.0));
    p_[k] += l.p_fault;
    ++looks_[k];
    faulty_[k] += l.faulty;
  }
  for (std::size_t w : {0, 1})
    for (std::size_t s = 0; s < watch::states; ++s) {
      inside_[w][s] += o.inside[w][s];
      asked_[w][s] += o.asked[w][s];
      squares_[w][s] += o.squares[w][s];
      claimed_[w][s] += o.claimed[w][s];
    }
}

void Honesty::print() const {
  fmt::print("\n| P(fault) said | looks | mean said | share truly at fault |\n|---|---|---|---|\n");
  for (std::size_t k = 0; k < 10; ++k)
    if (looks_[k] > 0)
      fmt::print("| {:.1f}-{:.1f} | {} | {:.2f} | {:.2f} |\n", 0.1 * double(k), 0.1 * double(k + 1),
                 looks_[k], p_[k] / looks_[k], double(faulty_[k]) / looks_[k]);
  constexpr const char* names[] = {"offset, Ah", "leak, mA",  "capacity",   "resistance, mOhm",
                                   "slow",       "sense, mV", "joint, mOhm"};
  fmt::print(
      "\n| state | 95 % intervals of levels cover | rms error, claimed | of changes | rms error, claimed |\n|---|---|---|---|---|\n");
  for (std::size_t s = 0; s < watch::states; ++s) {
    if (asked_[0][s] == 0) continue;
    const auto share = [&](std::size_t w) { return 100.0 * inside_[w][s] / asked_[w][s]; };
    const auto rms = [&](const auto& sums, std::size_t w) {
      return std::sqrt(sums[w][s] / asked_[w][s]);
    };
    fmt::print("| {} | {:.1f} % | {:.4f}, {:.4f} | {:.1f} % | {:.4f}, {:.4f} |\n", names[s],
               share(0), rms(squares_, 0), rms(claimed_, 0), share(1), rms(squares_, 1),
               rms(claimed_, 1));
  }
}

}  // namespace judge
