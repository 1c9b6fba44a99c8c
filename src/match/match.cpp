// SPDX-License-Identifier: Apache-2.0
#include "match/match.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "base/check.hpp"

namespace match {
namespace {

namespace units = base::units;

/// A group while it is being built: places in the sorted list, and their sum.
struct Bin {
  double sum = 0.0;
  std::vector<std::size_t> members;
};

std::vector<std::size_t> by_quality(const std::vector<Candidate>& candidates) {
  std::vector<std::size_t> order(candidates.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    const Candidate &x = candidates[a], &y = candidates[b];
    if (x.capacity != y.capacity) return x.capacity > y.capacity;
    if (x.resistance_mOhm != y.resistance_mOhm) return x.resistance_mOhm < y.resistance_mOhm;
    if (x.leak_mA != y.leak_mA) return x.leak_mA < y.leak_mA;
    return x.label < y.label;
  });
  return order;
}

/// Rounds of `bins` values, each round handed out the other way round: for P = 2 best with worst.
std::vector<Bin> fold(const std::vector<double>& sorted, std::size_t bins, std::size_t parallel) {
  std::vector<Bin> result(bins);
  for (std::size_t i = 0; i < bins * parallel; ++i) {
    const std::size_t round = i / bins, place = i % bins;
    Bin& bin = result[round % 2 == 0 ? place : bins - 1 - place];
    bin.sum += sorted[i];
    bin.members.push_back(i);
  }
  return result;
}

/// Largest cells first, each into the emptiest group that has room (equal counts kept).
std::vector<Bin> emptiest_first(const std::vector<double>& sorted, std::size_t bins,
                                std::size_t parallel) {
  std::vector<Bin> result(bins);
  for (std::size_t round = 0; round < parallel; ++round) {
    std::vector<std::size_t> order(bins);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return result[a].sum < result[b].sum; });
    for (std::size_t k = 0; k < bins; ++k) {
      Bin& bin = result[order[k]];
      bin.sum += sorted[round * bins + k];
      bin.members.push_back(round * bins + k);
    }
  }
  return result;
}

/// Balanced differencing: rounds of one cell a group are combined two by two, those that differ
/// most first, each group with what complements it; what is combined stays combined. Every group
/// ends with one cell of each round. [Yakir1996]
std::vector<Bin> differenced(const std::vector<double>& sorted, std::size_t bins,
                             std::size_t parallel) {
  std::vector<std::vector<Bin>> parts;  // each largest first
  for (std::size_t round = 0; round < parallel; ++round) {
    std::vector<Bin>& part = parts.emplace_back(bins);
    for (std::size_t k = 0; k < bins; ++k) part[k] = {sorted[round * bins + k], {round * bins + k}};
  }
  const auto range = [](const std::vector<Bin>& part) {
    return part.front().sum - part.back().sum;
  };
  while (parts.size() > 1) {
    std::stable_sort(parts.begin(), parts.end(),
                     [&](const auto& a, const auto& b) { return range(a) > range(b); });
    std::vector<Bin>& first = parts[0];
    for (std::size_t k = 0; k < bins; ++k) {
      Bin& other = parts[1][bins - 1 - k];
      first[k].sum += other.sum;
      first[k].members.insert(first[k].members.end(), other.members.begin(), other.members.end());
    }
    std::stable_sort(first.begin(), first.end(),
                     [](const Bin& a, const Bin& b) { return a.sum > b.sum; });
    parts.erase(parts.begin() + 1);
  }
  return std::move(parts.front());
}

/// Sums of the packs' minima when the groups are cut into packs in order of size.
double energy_of(std::vector<Bin>& bins, std::size_t series) {
  std::stable_sort(bins.begin(), bins.end(),
                   [](const Bin& a, const Bin& b) { return a.sum > b.sum; });
  double total = 0.0;
  for (std::size_t last = series - 1; last < bins.size(); last += series) total += bins[last].sum;
  return total;
}

struct Found {
  std::vector<Bin> bins;  // largest first
  std::string method;
  bool exhausted = false, stopped = false;
};

/// Bins of groups that a search gives as owners.
std::vector<Bin> bins_of(const Groups& groups) {
  std::vector<Bin> bins(groups.sum.size());
  for (std::size_t i = 0; i < groups.owner.size(); ++i) {
    bins[groups.owner[i]].members.push_back(i);
    bins[groups.owner[i]].sum = groups.sum[groups.owner[i]];
  }
  return bins;
}

Groups groups_of(const std::vector<Bin>& bins, std::size_t cells) {
  Groups groups;
  groups.owner.assign(cells, 0);
  for (std::size_t g = 0; g < bins.size(); ++g) {
    groups.sum.push_back(bins[g].sum);
    for (const std::size_t i : bins[g].members) groups.owner[i] = g;
  }
  return groups;
}

Found build_groups(const std::vector<double>& sorted, Shape shape, Aim aim, const Effort& effort) {
  const auto series = static_cast<std::size_t>(shape.series),
             parallel = static_cast<std::size_t>(shape.parallel);
  const std::size_t cells = shape.places(), groups = cells / parallel;
  const Grouping grouping{groups, parallel, series, aim == Aim::even_packs};
  if (parallel == 1 || groups == 1) {
    Found found{fold(sorted, groups, parallel), "sorted blocks, exact", true, false};
    energy_of(found.bins, series);
    return found;
  }
  if (Groups all = exhaust(sorted, grouping); all.exhausted) {
    Found found{bins_of(all), "every partition tried", true, false};
    energy_of(found.bins, series);
    return found;
  }
  Found best;
  double best_first = -1.0, best_second = -1.0;
  const auto consider = [&](std::vector<Bin> bins, std::string method) {
    const double energy = energy_of(bins, series), smallest = bins.back().sum;
    const double first = aim == Aim::most_energy ? energy : smallest;
    const double second = aim == Aim::most_energy ? smallest : energy;
    if (first > best_first + 1e-12 ||
        (std::abs(first - best_first) <= 1e-12 && second > best_second + 1e-12)) {
      best = {std::move(bins), std::move(method)};
      best_first = first, best_second = second;
    }
  };
  // Blocks of whole packs, each folded by itself: what most energy needs where cells differ widely.
  std::vector<Bin> by_blocks;
  for (std::size_t pack = 0; pack < groups / series; ++pack) {
    const auto from = sorted.begin() + static_cast<std::ptrdiff_t>(pack * series * parallel);
    const std::vector<double> block(from, from + static_cast<std::ptrdiff_t>(series * parallel));
    for (Bin& bin : fold(block, series, parallel)) {
      for (std::size_t& member : bin.members) member += pack * series * parallel;
      by_blocks.push_back(std::move(bin));
    }
  }
  const std::string fold_name = parallel == 2 ? "best with worst" : "folded rounds";
  consider(fold(sorted, groups, parallel), fold_name);
  consider(emptiest_first(sorted, groups, parallel), "emptiest group first");
  if (parallel > 2) consider(differenced(sorted, groups, parallel), "balanced differencing");
  consider(std::move(by_blocks), "packs from sorted blocks, each folded");
  const double bound = most_energy_bound(sorted, shape);
  const bool met = aim == Aim::most_energy ? best_first >= bound * (1.0 - 1e-12)
                                           : best_second >= bound * (1.0 - 1e-12);
  if (met) return best;
  // Small lots are searched from several seeds: it costs little, and they differ more.
  const Found start = best;
  for (std::uint64_t again = 0; again < (groups <= 64 ? 4u : 1u); ++again) {
    Effort part = effort;
    part.seed = effort.seed + again * 1000003ULL;
    Groups found = anneal(sorted, grouping, groups_of(start.bins, cells),
                          aim == Aim::most_energy ? bound : 0.0, {}, part);
    const bool stopped = found.stopped;
    consider(bins_of(found), start.method + ", then exchanges (annealed)");
    best.stopped = best.stopped || stopped;
    if (stopped) break;
  }
  return best;
}

}  // namespace

double most_energy_bound(const std::vector<double>& sorted, Shape shape) {
  const auto series = static_cast<std::size_t>(shape.series),
             parallel = static_cast<std::size_t>(shape.parallel),
             packs = static_cast<std::size_t>(shape.packs);
  std::vector<double> first_cells(packs + 1, 0.0), smallest(packs + 1, 0.0);
  for (std::size_t j = 1; j <= packs; ++j) {
    const auto from = sorted.begin() + static_cast<std::ptrdiff_t>((j - 1) * series * parallel);
    first_cells[j] = std::accumulate(from, from + static_cast<std::ptrdiff_t>(series * parallel),
                                     first_cells[j - 1]);
    smallest[j] = smallest_group_bound(sorted, j * series, parallel);
  }
  double bound = std::numeric_limits<double>::infinity(), rest = 0.0;
  for (std::size_t j = packs + 1; j-- > 0;) {
    bound = std::min(bound, first_cells[j] / double(series) + rest);
    rest += smallest[j];
  }
  return bound;
}

double smallest_group_bound(const std::vector<double>& capacities, std::size_t groups,
                            std::size_t parallel) {
  CHECK(capacities.size() >= groups * parallel && groups >= 1);
  if (parallel == 2) {  // exact: best with worst among the best
    double smallest = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < groups; ++i)
      smallest = std::min(smallest, capacities[i] + capacities[2 * groups - 1 - i]);
    return smallest;
  }
  double bound = std::numeric_limits<double>::infinity();
  for (std::size_t j = 0; j < groups; ++j) {
    const std::size_t left = groups - j, end = std::min(capacities.size(), j + left * parallel);
    double sum = 0.0;
    for (std::size_t i = j; i < end; ++i) sum += capacities[i];
    bound = std::min(bound, sum / double(left));
  }
  return bound;
}

base::AmpHours value_of(const Assignment& a) {
  return a.aim == Aim::most_energy ? a.bank_capacity : a.smallest_pack;
}

void add_up(Assignment& a, const std::vector<Candidate>& candidates) {
  a.bank_capacity = {};
  for (std::size_t p = 0; p < a.packs.size(); ++p) {
    Pack& pack = a.packs[p];
    for (std::size_t g = 0; g < pack.groups.size(); ++g) {
      base::AmpHours sum;
      for (const std::size_t i : pack.groups[g].cells) sum += candidates[i].capacity;
      pack.groups[g].capacity = sum;
      pack.capacity = g == 0 ? sum : std::min(pack.capacity, sum);
    }
    a.bank_capacity += pack.capacity;
    a.smallest_pack = p == 0 ? pack.capacity : std::min(a.smallest_pack, pack.capacity);
  }
  if (a.upper_bound.si() > 0.0) a.gap = std::max(0.0, 1.0 - value_of(a) / a.upper_bound);
}

Assignment assign(const std::vector<Candidate>& candidates, Shape shape, Aim aim,
                  const Effort& effort) {
  CHECK(shape.packs >= 1 && shape.series >= 1 && shape.parallel >= 1);
  CHECK(candidates.size() >= shape.places());
  const std::vector<std::size_t> order = by_quality(candidates);
  std::vector<double> sorted;
  for (const std::size_t i : order) {
    CHECK(candidates[i].capacity.si() > 0.0, candidates[i].label);
    sorted.push_back(candidates[i].capacity.in(units::Ah));
  }
  Found found = build_groups(sorted, shape, aim, effort);

  Assignment result;
  result.aim = aim;
  result.method = found.method;
  result.stopped = found.stopped;
  const auto series = static_cast<std::size_t>(shape.series);
  for (std::size_t first = 0; first < found.bins.size(); first += series) {
    Pack& pack = result.packs.emplace_back();
    for (std::size_t g = first; g < first + series; ++g) {
      Group& group = pack.groups.emplace_back();
      std::sort(found.bins[g].members.begin(), found.bins[g].members.end());
      for (const std::size_t member : found.bins[g].members) group.cells.push_back(order[member]);
    }
  }
  for (std::size_t i = shape.places(); i < order.size(); ++i) result.spares.push_back(order[i]);
  add_up(result, candidates);

  const double energy = result.bank_capacity.in(units::Ah),
               smallest = result.smallest_pack.in(units::Ah);
  const std::size_t groups = shape.places() / static_cast<std::size_t>(shape.parallel);
  double bound = shape.parallel == 1 ? energy : most_energy_bound(sorted, shape), value = energy;
  if (aim == Aim::even_packs) {
    value = smallest;
    bound = shape.parallel == 1
                ? smallest
                : smallest_group_bound(sorted, groups, static_cast<std::size_t>(shape.parallel));
  }
  if (found.exhausted) bound = value;  // nothing was left untried
  const double slack = 1e-9 * bound;   // rounding in sums of many cells
  result.proven_optimal = value >= bound - slack;
  if (aim == Aim::even_packs && shape.parallel > 1 && shape.packs > 1 &&
      !found.exhausted)  // the second half of the aim too
    result.proven_optimal =
        result.proven_optimal && energy >= most_energy_bound(sorted, shape) - 1e-9 * energy;
  result.upper_bound = std::max(bound, value) * units::Ah;
  result.gap = result.proven_optimal && value >= bound - slack
                   ? 0.0
                   : std::max(0.0, (bound - value) / bound);
  if (result.proven_optimal && shape.parallel > 1 && !found.exhausted)
    result.method += "; meets the bound";
  return result;
}

}  // namespace match
