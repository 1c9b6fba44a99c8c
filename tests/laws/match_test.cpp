// SPDX-License-Identifier: Apache-2.0
// Matching against exhaustive search on small lots, and laws that hold on any lot.
#include "match/match.hpp"

#include <algorithm>
#include <functional>
#include <numeric>
#include <random>
#include <set>

#include <gtest/gtest.h>

namespace {

namespace units = base::units;

std::vector<match::Candidate> lot(std::mt19937_64& engine, int n, double spread) {
  std::vector<match::Candidate> cells;
  for (int i = 0; i < n; ++i) {
    double z = -6.0;
    for (int k = 0; k < 12; ++k) z += double(engine() >> 11) * 0x1.0p-53;
    cells.push_back({"c" + std::to_string(i), 230.0 * (1.0 + spread * z) * units::Ah, 0.5, 0.0});
  }
  return cells;
}

/// Best value over every way to fill the groups (each group takes the lowest free cell first, so no
/// way is counted twice within a pack's groups); cells may stay out.
double exhaustive(const std::vector<double>& c, match::Shape s, match::Aim aim) {
  const std::size_t groups = s.places() / std::size_t(s.parallel);
  std::vector<int> owner(c.size(), -1);
  std::vector<double> sum(groups, 0.0);
  double best = 0.0;
  std::function<void(std::size_t)> place = [&](std::size_t i) {
    if (i == c.size()) {
      std::vector<int> count(groups, 0);
      for (const int o : owner)
        if (o >= 0) ++count[std::size_t(o)];
      for (const int n : count)
        if (n != s.parallel) return;
      double energy = 0.0, smallest = 1e18;
      for (std::size_t p = 0; p < groups; p += std::size_t(s.series)) {
        const double pack = *std::min_element(sum.begin() + std::ptrdiff_t(p),
                                              sum.begin() + std::ptrdiff_t(p) + s.series);
        energy += pack;
        smallest = std::min(smallest, pack);
      }
      best = std::max(best, aim == match::Aim::most_energy ? energy : smallest);
      return;
    }
    owner[i] = -1;
    place(i + 1);
    for (std::size_t g = 0; g < groups; ++g) {
      if (std::count(owner.begin(), owner.begin() + std::ptrdiff_t(i), int(g)) >= s.parallel)
        continue;
      owner[i] = int(g);
      sum[g] += c[i];
      place(i + 1);
      sum[g] -= c[i];
      owner[i] = -1;
    }
  };
  place(0);
  return best;
}

TEST(Matching, equals_exhaustive_search_where_it_claims_proof_and_never_exceeds_its_bound) {
  std::mt19937_64 engine(11);
  int proven = 0, cases = 0;
  for (const match::Shape shape :
       {match::Shape{1, 3, 1}, match::Shape{2, 3, 1}, match::Shape{3, 2, 1}, match::Shape{1, 3, 2},
        match::Shape{2, 2, 2}, match::Shape{1, 2, 3}})
    for (int trial = 0; trial < 6; ++trial)
      for (const match::Aim aim : {match::Aim::most_energy, match::Aim::even_packs}) {
        const auto cells = lot(engine, int(shape.places()) + (shape.places() < 8 ? 1 : 0),
                               trial % 2 == 0 ? 0.015 : 0.2);
        std::vector<double> c;
        for (const auto& cell : cells) c.push_back(cell.capacity.in(units::Ah));
        const double best = exhaustive(c, shape, aim);
        const auto a = match::assign(cells, shape, aim);
        const double value =
            (aim == match::Aim::most_energy ? a.bank_capacity : a.smallest_pack).in(units::Ah);
        EXPECT_LE(value, best + 1e-9);
        EXPECT_GE(a.upper_bound.in(units::Ah), best - 1e-9);
        if (a.proven_optimal) {
          EXPECT_NEAR(value, best, 1e-9);
        }
        if (shape.parallel == 1) {
          EXPECT_TRUE(a.proven_optimal);
        }
        if (shape.parallel == 2 && aim == match::Aim::even_packs) {
          EXPECT_NEAR(value, best, 1e-9);
        }
        proven += a.proven_optimal;
        ++cases;
      }
  EXPECT_GT(proven * 2, cases);
}

// The textbook's proof by exchange, on its own examples: blocks of the sorted list.
TEST(Matching, cuts_sorted_cells_into_blocks_where_groups_hold_one) {
  struct Row {
    std::vector<double> cells;
    int series, packs;
    double sum;
  };
  for (const Row& row :
       {Row{{1, 4, 3, 2}, 2, 2, 4}, Row{{6, 2, 6, 5, 1, 2}, 2, 3, 9},
        Row{{100, 99, 98, 90, 80, 79, 78, 50}, 4, 2, 140},
        Row{{298, 301, 305, 296, 303, 299, 302, 300, 294, 304, 297, 306}, 3, 4, 1197},
        Row{{298, 301, 305, 296, 303, 299, 302, 300, 294, 304, 297, 306}, 4, 3, 896}}) {
    std::vector<match::Candidate> cells;
    for (const double c : row.cells)
      cells.push_back({std::to_string(cells.size()), c * units::Ah, 0, 0});
    const auto a = match::assign(cells, {row.packs, row.series, 1}, match::Aim::most_energy);
    EXPECT_NEAR(a.bank_capacity.in(units::Ah), row.sum, 1e-9);
    EXPECT_TRUE(a.proven_optimal);
  }
}

TEST(Matching, places_every_cell_once_and_does_not_depend_on_the_order_of_the_lot) {
  std::mt19937_64 engine(5);
  for (const match::Shape shape : {match::Shape{2, 16, 1}, match::Shape{1, 8, 2},
                                   match::Shape{3, 16, 2}, match::Shape{2, 8, 3}}) {
    auto cells = lot(engine, int(shape.places()) + 7, 0.015);
    const auto a = match::assign(cells, shape, match::Aim::most_energy);
    std::set<std::size_t> seen(a.spares.begin(), a.spares.end());
    for (const auto& pack : a.packs)
      for (const auto& group : pack.groups) {
        EXPECT_EQ(group.cells.size(), std::size_t(shape.parallel));
        seen.insert(group.cells.begin(), group.cells.end());
      }
    EXPECT_EQ(seen.size(), cells.size());
    std::shuffle(cells.begin(), cells.end(), engine);
    EXPECT_NEAR(match::assign(cells, shape, match::Aim::most_energy).bank_capacity.in(units::Ah),
                a.bank_capacity.in(units::Ah), 1e-9);
  }
}

// Csirik, Kellerer and Woeginger 1992: filling the emptiest first gives at least (3m − 1)/(4m − 2)
// of the largest smallest sum.
TEST(Matching, keeps_the_published_guarantee_against_the_mean) {
  std::mt19937_64 engine(3);
  for (int trial = 0; trial < 20; ++trial) {
    const auto cells = lot(engine, 24, 0.02);
    const auto a = match::assign(cells, {1, 8, 3}, match::Aim::even_packs);
    EXPECT_GE(a.smallest_pack.in(units::Ah),
              (3.0 * 8 - 1) / (4.0 * 8 - 2) * a.upper_bound.in(units::Ah));
    EXPECT_LT(a.gap, 0.01);
  }
}

}  // namespace
