// SPDX-License-Identifier: Apache-2.0
#include "match/search.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "match/draws.hpp"

namespace match {
namespace {

constexpr double most_partitions = 200000.0;

/// n cells into groups of p: n! / (p!^g g!).
double partitions(std::size_t groups, std::size_t parallel) {
  double ways = 1.0;
  for (std::size_t left = groups * parallel; left > 0 && ways < 1e18; left -= parallel) {
    double choose = 1.0;  // the largest left over with p − 1 of the others
    for (std::size_t k = 1; k < parallel; ++k) choose *= double(left - k) / double(k);
    ways *= choose;
  }
  return ways;
}

}  // namespace

double score_of(const Worth& w, bool even_packs) {
  return even_packs ? 1e4 * w.smallest + w.packs : w.packs;
}

std::uint64_t usual_moves(std::size_t groups) {
  return std::clamp<std::uint64_t>(groups * 5500ULL, 200000ULL, 2200000ULL);
}

Worth worth_of(std::vector<double> sums, std::size_t series) {
  std::sort(sums.begin(), sums.end(), std::greater<>());
  Worth w;
  for (std::size_t last = series - 1; last < sums.size(); last += series) w.packs += sums[last];
  w.smallest = sums.empty() ? 0.0 : sums.back();
  return w;
}

Groups exhaust(const std::vector<double>& capacities, const Grouping& grouping) {
  Groups best;
  const std::size_t n = grouping.groups * grouping.parallel;
  if (partitions(grouping.groups, grouping.parallel) > most_partitions) return best;
  double best_score = -1.0;
  Groups now;
  now.owner.assign(n, grouping.groups);
  now.sum.assign(grouping.groups, 0.0);
  // Each group begins with the first free cell, so that no partition comes twice.
  const std::function<void(std::size_t, std::size_t, std::size_t)> fill =
      [&](std::size_t group, std::size_t held, std::size_t from) {
        if (held == grouping.parallel) {
          if (group + 1 == grouping.groups) {
            const double score = score_of(worth_of(now.sum, grouping.series), grouping.even_packs);
            if (score > best_score + 1e-12) best_score = score, best = now;
            return;
          }
          return fill(group + 1, 0, 0);
        }
        for (std::size_t i = from; i < n; ++i) {
          if (now.owner[i] < grouping.groups) continue;
          now.owner[i] = group;
          now.sum[group] += capacities[i];
          fill(group, held + 1, i + 1);
          now.sum[group] -= capacities[i];
          now.owner[i] = grouping.groups;
          if (held == 0) return;
        }
      };
  fill(0, 0, 0);
  // Sums that were added and taken away again carry rounding: add them afresh.
  std::fill(best.sum.begin(), best.sum.end(), 0.0);
  for (std::size_t i = 0; i < n; ++i) best.sum[best.owner[i]] += capacities[i];
  best.exhausted = true;
  return best;
}

namespace {

/// Group sums in order, largest first, with the packs' minima at every `series`-th place.
class Ranking {
 public:
  Ranking(const std::vector<double>& sums, std::size_t series) : series_(series) {
    ranked_ = sums;
    std::sort(ranked_.begin(), ranked_.end(), std::greater<>());
    packs_ = 0.0;
    for (std::size_t last = series - 1; last < ranked_.size(); last += series)
      packs_ += ranked_[last];
  }
  [[nodiscard]] Worth worth() const { return {packs_, ranked_.back()}; }

  /// Takes one sum out and puts another in; only the places between change.
  void replace(double old_sum, double new_sum) {
    const auto place_of = [&](double value) {  // the first place whose sum is not larger
      return static_cast<std::size_t>(
          std::lower_bound(ranked_.begin(), ranked_.end(), value, std::greater<>()) -
          ranked_.begin());
    };
    std::size_t from = place_of(old_sum);
    if (new_sum > old_sum) {
      const std::size_t to = place_of(new_sum);
      change_minima(to, from, -1.0);
      std::move_backward(ranked_.begin() + static_cast<std::ptrdiff_t>(to),
                         ranked_.begin() + static_cast<std::ptrdiff_t>(from),
                         ranked_.begin() + static_cast<std::ptrdiff_t>(from) + 1);
      ranked_[to] = new_sum;
      change_minima(to, from, 1.0);
    } else {
      std::size_t to = place_of(new_sum);
      to = to > from ? to - 1 : from;
      change_minima(from, to, -1.0);
      std::move(ranked_.begin() + static_cast<std::ptrdiff_t>(from) + 1,
                ranked_.begin() + static_cast<std::ptrdiff_t>(to) + 1,
                ranked_.begin() + static_cast<std::ptrdiff_t>(from));
      ranked_[to] = new_sum;
      change_minima(from, to, 1.0);
    }
  }

 private:
  void change_minima(std::size_t first, std::size_t last, double sign) {
    for (std::size_t p = first / series_ * series_ + series_ - 1; p <= last; p += series_)
      packs_ += sign * ranked_[p];
  }
  std::size_t series_;
  std::vector<double> ranked_;
  double packs_ = 0.0;
};

}  // namespace

Groups anneal(const std::vector<double>& capacities, const Grouping& grouping, Groups start,
              double target, const std::vector<char>& locked, const Effort& effort) {
  const std::size_t n = grouping.groups * grouping.parallel;
  if (grouping.groups < 2 || n < 3) return start;
  const std::uint64_t moves = effort.moves > 0 ? effort.moves : usual_moves(grouping.groups);
  Draws draws(effort.seed);
  Ranking ranking(start.sum, grouping.series);
  Groups now = start, best = std::move(start);
  double score = score_of(ranking.worth(), grouping.even_packs), best_score = score;
  const double target_score = target > 0.0 ? target * (1.0 - 1e-12) : 1e300;
  // Cells lie in order of capacity; exchanges reach as far as the temperature does.
  const double spread = capacities.front() - capacities[n - 1];
  const double hot = std::max(1e-9, 0.02 * spread), cold = hot * 1e-3;
  double temperature = hot;
  const double cooling = std::pow(cold / hot, 1.0 / double(moves));
  std::uint64_t slow = 0;
  const std::uint64_t late = moves - moves / 16;
  for (std::uint64_t move = 0; move < moves; ++move) {
    temperature *= cooling;
    if ((++slow & 0x3FFF) == 0) {
      if (effort.go_on && !effort.go_on(double(move) / double(moves))) {
        best.stopped = true;
        break;
      }
    }
    const std::size_t a = draws.below(n);
    // A partner near in rank: mostly close, at times anywhere.
    const double u = draws.uniform();
    const auto reach = static_cast<std::size_t>(1.0 + u * u * u * double(n - 1));
    const std::size_t step = 1 + draws.below(reach);
    const std::size_t b = (draws.next() & 1) != 0
                              ? (a + step < n ? a + step : a - std::min(a, step))
                              : (a >= step ? a - step : std::min(n - 1, a + step));
    const std::size_t ga = now.owner[a], gb = now.owner[b];
    if (ga == gb) continue;
    if (!locked.empty() && (locked[a] || locked[b])) continue;
    const double gain = capacities[b] - capacities[a];
    if (gain == 0.0) continue;
    const double old_a = now.sum[ga], old_b = now.sum[gb];
    const double new_a = old_a + gain, new_b = old_b - gain;
    ranking.replace(old_a, new_a);
    ranking.replace(old_b, new_b);
    const double after = score_of(ranking.worth(), grouping.even_packs);
    const double change = after - score;
    if (change >= 0.0 || draws.uniform() < std::exp(change / temperature)) {
      now.owner[a] = gb;
      now.owner[b] = ga;
      now.sum[ga] = new_a;
      now.sum[gb] = new_b;
      score = after;
      // While it is hot the best does not last long: it is worth keeping only late, and a bound at
      // any time.
      if (score > best_score + 1e-12 && (move > late || score >= target_score)) {
        best_score = score;
        best.owner = now.owner;
        best.sum = now.sum;
        if (best_score >= target_score) break;
      }
    } else {
      ranking.replace(new_b, old_b);
      ranking.replace(new_a, old_a);
    }
  }
  std::fill(best.sum.begin(), best.sum.end(), 0.0);
  for (std::size_t i = 0; i < n; ++i) best.sum[best.owner[i]] += capacities[i];
  return best;
}

}  // namespace match
