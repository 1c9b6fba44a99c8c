// SPDX-License-Identifier: Apache-2.0
#include "match/what_if.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include "base/check.hpp"
#include "base/statistics.hpp"
#include "match/draws.hpp"
#include "match/rules.hpp"

namespace match {
namespace {

namespace units = base::units;

struct Place {
  bool spare = false;
  std::size_t pack = 0, group = 0, member = 0;  ///< or the place among the spares
};

Place place_of(const Assignment& a, std::size_t cell) {
  for (std::size_t p = 0; p < a.packs.size(); ++p)
    for (std::size_t g = 0; g < a.packs[p].groups.size(); ++g)
      for (std::size_t m = 0; m < a.packs[p].groups[g].cells.size(); ++m)
        if (a.packs[p].groups[g].cells[m] == cell) return {false, p, g, m};
  for (std::size_t s = 0; s < a.spares.size(); ++s)
    if (a.spares[s] == cell) return {true, 0, 0, s};
  CHECK(false, "the cell is not in the assignment");
  return {};
}

}  // namespace

Standing standing_of(const Assignment& a, const std::vector<Candidate>& candidates) {
  Standing s;
  s.bank = a.bank_capacity;
  s.smallest_pack = a.smallest_pack;
  for (const Pack& pack : a.packs) s.through_groups += pack.capacity * double(pack.groups.size());
  double weakest = 0.0, spread = 0.0, leak = 0.0, tail = 0.0;
  std::size_t groups = 0;
  for (std::size_t p = 0; p < a.packs.size(); ++p) {
    double lowest = 1e300, highest = -1e300, least_tail = 1e300, most_tail = -1e300;
    for (std::size_t g = 0; g < a.packs[p].groups.size(); ++g) {
      const Group& group = a.packs[p].groups[g];
      const double Ah = group.capacity.in(units::Ah);
      if (groups == 0 || Ah < weakest) weakest = Ah, s.weakest_pack = p, s.weakest_group = g;
      std::vector<double> ohms;
      for (const std::size_t i : group.cells) {
        ohms.push_back(candidates[i].resistance_mOhm);
        lowest = std::min(lowest, candidates[i].leak_mA);
        highest = std::max(highest, candidates[i].leak_mA);
        least_tail = std::min(least_tail, candidates[i].tail_share);
        most_tail = std::max(most_tail, candidates[i].tail_share);
      }
      if (const double mean = base::mean(ohms); mean > 0.0)
        spread += base::standard_deviation(ohms) / mean;
      ++groups;
    }
    leak += highest - lowest;
    tail += most_tail - least_tail;
  }
  s.resistance_spread = groups > 0 ? spread / double(groups) : 0.0;
  s.leak_spread_mA = a.packs.empty() ? 0.0 : leak / double(a.packs.size());
  s.tail_spread = a.packs.empty() ? 0.0 : tail / double(a.packs.size());
  return s;
}

Assignment with_exchange(Assignment a, const std::vector<Candidate>& candidates, std::size_t x,
                         std::size_t y) {
  const Place px = place_of(a, x), py = place_of(a, y);
  const auto put = [&](const Place& at, std::size_t cell) {
    if (at.spare)
      a.spares[at.member] = cell;
    else
      a.packs[at.pack].groups[at.group].cells[at.member] = cell;
  };
  put(px, y);
  put(py, x);
  add_up(a, candidates);
  a.proven_optimal = false;
  return a;
}

Assignment without(Assignment a, const std::vector<Candidate>& candidates, std::size_t cell) {
  CHECK(!a.spares.empty());
  const Place at = place_of(a, cell);
  if (!at.spare) {
    a = with_exchange(std::move(a), candidates, cell, a.spares.front());
  }
  std::erase(a.spares, cell);
  return a;
}

std::optional<Assignment> in_layout(const std::vector<Candidate>& candidates, Shape shape, Aim aim,
                                    const std::vector<std::size_t>& kept_out) {
  Rules rules;
  rules.kept_out = kept_out;
  Effort brief;
  brief.moves = 4000;
  auto found = assign_under_rules(candidates, shape, aim, rules, brief);
  if (auto* assignment = std::get_if<Assignment>(&found)) return std::move(*assignment);
  return std::nullopt;
}

Effect effect_of(const Assignment& before, const Assignment& after,
                 const std::vector<Candidate>& candidates,
                 const std::function<double(const Standing&)>& years) {
  Effect e{standing_of(before, candidates), standing_of(after, candidates)};
  e.bank_change_Ah = (e.after.bank - e.before.bank).in(units::Ah);
  e.energy_change = e.after.through_groups / e.before.through_groups - 1.0;
  if (years) e.years_before = years(e.before), e.years_after = years(e.after);
  return e;
}

Alternatives alternatives(const std::vector<Candidate>& candidates, Shape shape, std::size_t draws,
                          std::uint64_t seed) {
  Alternatives result;
  result.draws = draws;
  const auto series = static_cast<std::size_t>(shape.series),
             parallel = static_cast<std::size_t>(shape.parallel), cells = shape.places();
  CHECK(candidates.size() >= cells && draws > 0);
  std::vector<double> capacity;
  for (const Candidate& c : candidates) capacity.push_back(c.capacity.in(units::Ah));
  const auto bank = [&](const std::vector<double>& order) {  // places filled one after another
    double total = 0.0;
    for (std::size_t first = 0; first < cells; first += series * parallel) {
      double least = 1e300;
      for (std::size_t g = 0; g < series; ++g) {
        double sum = 0.0;
        for (std::size_t m = 0; m < parallel; ++m) sum += order[first + g * parallel + m];
        least = std::min(least, sum);
      }
      total += least;
    }
    return total;
  };
  std::vector<double> sorted = capacity;
  std::sort(sorted.begin(), sorted.end(), std::greater<>());
  result.sorted_Ah = bank(sorted);
  Draws random(seed);
  std::vector<double> banks;
  for (std::size_t d = 0; d < draws; ++d) {
    for (std::size_t i = 0; i < cells; ++i)
      std::swap(capacity[i], capacity[i + random.below(capacity.size() - i)]);
    banks.push_back(bank(capacity));
  }
  result.random_mean_Ah = base::mean(banks);
  result.random_low_Ah = base::quantile(banks, 0.05);
  result.random_high_Ah = base::quantile(banks, 0.95);
  return result;
}

Robustness robustness(const Assignment& a, const std::vector<Candidate>& candidates,
                      const std::vector<double>& u_Ah, Shape shape, std::size_t draws,
                      std::uint64_t seed) {
  CHECK(u_Ah.size() == candidates.size() && draws > 1);
  Robustness r;
  Draws random(seed);
  const std::size_t n = candidates.size();
  std::vector<double> banks, losses;
  std::vector<std::vector<double>> errors(n);
  std::size_t near = 0;
  for (std::size_t d = 0; d < draws; ++d) {
    std::vector<double> truth(n);
    for (std::size_t i = 0; i < n; ++i) {
      const double z = random.normal();
      errors[i].push_back(z);
      truth[i] = std::max(1e-6, candidates[i].capacity.in(units::Ah) + u_Ah[i] * z);
    }
    double bank = 0.0;
    for (const Pack& p : a.packs) {
      double least = 1e300;
      for (const Group& g : p.groups) {
        double sum = 0.0;
        for (const std::size_t i : g.cells) sum += truth[i];
        least = std::min(least, sum);
      }
      bank += least;
    }
    std::sort(truth.begin(), truth.end(), std::greater<>());
    const double best = most_energy_bound(truth, shape);
    banks.push_back(bank);
    losses.push_back(1.0 - bank / best);
    near += losses.back() <= 1e-3;
  }
  r.expected_Ah = base::mean(banks);
  r.sd_Ah = base::standard_deviation(banks);
  r.near_best = double(near) / double(draws);
  const double mean = base::mean(losses), sd = base::standard_deviation(losses);
  if (sd <= 0.0) return r;
  for (std::size_t i = 0; i < n; ++i) {
    double product = 0.0;
    for (std::size_t d = 0; d < draws; ++d) product += errors[i][d] * (losses[d] - mean);
    const double correlation = product / (double(draws) - 1.0) / sd;
    if (correlation * correlation > r.retest_share)
      r.retest_share = correlation * correlation, r.retest = i;
  }
  return r;
}

}  // namespace match
