// SPDX-License-Identifier: Apache-2.0
// Matching against exhaustive search on small lots, and laws that hold on any lot.
#include "match/match.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <numeric>
#include <random>
#include <set>

#include <gtest/gtest.h>

#include "match/what_if.hpp"

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

/// Best worth over every partition of the best cells, by a way of its own: groups are filled cell
/// by cell, every cell into every group that has room and is not empty twice over.
double best_by_hand(std::vector<double> c, match::Shape shape, match::Aim aim) {
  std::sort(c.begin(), c.end(), std::greater<>());
  c.resize(shape.places());
  const std::size_t groups = shape.places() / std::size_t(shape.parallel);
  std::vector<double> sum(groups, 0.0);
  std::vector<int> held(groups, 0);
  double best = 0.0;
  std::function<void(std::size_t)> place = [&](std::size_t i) {
    if (i == c.size()) {
      std::vector<double> s = sum;
      std::sort(s.begin(), s.end(), std::greater<>());
      double energy = 0.0;
      for (std::size_t last = std::size_t(shape.series) - 1; last < groups;
           last += std::size_t(shape.series))
        energy += s[last];
      best = std::max(best, aim == match::Aim::most_energy ? energy : s.back());
      return;
    }
    bool empty_tried = false;
    for (std::size_t g = 0; g < groups; ++g) {
      if (held[g] == shape.parallel || (held[g] == 0 && empty_tried)) continue;
      empty_tried = empty_tried || held[g] == 0;
      ++held[g];
      sum[g] += c[i];
      place(i + 1);
      sum[g] -= c[i];
      --held[g];
    }
  };
  place(0);
  return best;
}

TEST(Matching, is_the_best_there_is_on_five_hundred_small_lots) {
  std::mt19937_64 engine(4);
  std::vector<match::Shape> shapes;
  for (int packs = 1; packs <= 4; ++packs)
    for (int series = 1; series <= 7; ++series)
      for (int parallel = 1; parallel <= 4; ++parallel)
        if (packs * series * parallel >= 2 && packs * series * parallel <= 12)
          shapes.push_back({packs, series, parallel});
  int cases = 0;
  for (int trial = 0; cases < 520; ++trial)
    for (const match::Shape shape : shapes) {
      if (shape.places() > 10 && trial > 0) continue;  // the large ones once: they take long
      const match::Aim aim =
          (trial + shape.series) % 2 == 0 ? match::Aim::most_energy : match::Aim::even_packs;
      const auto cells = lot(engine, int(shape.places()) + trial % 3, trial % 2 == 0 ? 0.02 : 0.3);
      std::vector<double> c;
      for (const auto& cell : cells) c.push_back(cell.capacity.in(units::Ah));
      const auto a = match::assign(cells, shape, aim);
      const double value =
          (aim == match::Aim::most_energy ? a.bank_capacity : a.smallest_pack).in(units::Ah);
      EXPECT_NEAR(value, best_by_hand(c, shape, aim), 1e-9)
          << shape.packs << " x " << shape.series << "S" << shape.parallel << "P";
      EXPECT_TRUE(a.proven_optimal);
      ++cases;
    }
}

TEST(Matching, comes_near_its_bound_on_large_lots_and_is_the_same_for_the_same_seed) {
  std::mt19937_64 engine(5);
  const auto cells = lot(engine, 106, 0.015);
  const match::Shape shape{3, 16, 2};
  const auto a = match::assign(cells, shape, match::Aim::most_energy),
             b = match::assign(cells, shape, match::Aim::most_energy);
  EXPECT_LT(a.gap, 5e-4);
  EXPECT_EQ(a.bank_capacity.si(), b.bank_capacity.si());
  for (std::size_t k = 0; k < a.packs.size(); ++k)
    for (std::size_t g = 0; g < a.packs[k].groups.size(); ++g)
      EXPECT_EQ(a.packs[k].groups[g].cells, b.packs[k].groups[g].cells);
  match::Effort cut_short;
  cut_short.go_on = [](double) { return false; };
  const auto stopped = match::assign(cells, shape, match::Aim::most_energy, cut_short);
  EXPECT_TRUE(stopped.stopped);
  EXPECT_LE(stopped.bank_capacity.si(), a.upper_bound.si());
}

TEST(WhatIf, agrees_with_adding_up_afresh) {
  std::mt19937_64 engine(6);
  const auto cells = lot(engine, 40, 0.02);
  const match::Shape shape{2, 9, 2};
  const auto a = match::assign(cells, shape, match::Aim::most_energy);
  const std::size_t x = a.packs[0].groups[0].cells[0], y = a.packs[1].groups[8].cells[1],
                    spare = a.spares[1];
  const auto bank_of = [&](const match::Assignment& assignment) {
    double total = 0.0;
    for (const auto& pack : assignment.packs) {
      double least = 1e18;
      for (const auto& group : pack.groups) {
        double sum = 0.0;
        for (const std::size_t i : group.cells) sum += cells[i].capacity.in(units::Ah);
        least = std::min(least, sum);
      }
      total += least;
    }
    return total;
  };
  const auto swapped = match::with_exchange(a, cells, x, y);
  EXPECT_NEAR(swapped.bank_capacity.in(units::Ah), bank_of(swapped), 1e-9);
  const auto back = match::with_exchange(swapped, cells, x, y);
  EXPECT_NEAR(back.bank_capacity.si(), a.bank_capacity.si(), 1e-9);
  const auto with_spare = match::with_exchange(a, cells, x, spare);
  EXPECT_EQ(with_spare.spares[1], x);
  const auto less = match::without(a, cells, x);
  EXPECT_EQ(less.spares.size(), a.spares.size() - 1);
  EXPECT_NEAR(less.bank_capacity.in(units::Ah), bank_of(less), 1e-9);
  EXPECT_LE(less.bank_capacity.si(), a.bank_capacity.si() + 1e-9);
  const auto s = match::standing_of(a, cells);
  EXPECT_NEAR(a.packs[s.weakest_pack].groups[s.weakest_group].capacity.si(), a.smallest_pack.si(),
              1e-12);
}

// The mean weakest of 16 normals is 1.7660 standard deviations below the mean. [Harter1961]
TEST(WhatIf, counts_the_gap_of_the_aim_that_was_chosen) {
  std::vector<match::Candidate> cells;
  for (const double x : {100.0, 99.0, 98.0, 90.0, 80.0, 50.0})
    cells.push_back({std::to_string(cells.size()), x * units::Ah});
  const auto a = match::assign(cells, {2, 2, 1}, match::Aim::even_packs);
  ASSERT_TRUE(a.proven_optimal);
  // The worst spare for the smallest cell that is placed: 90 falls to 50.
  const auto b = match::with_exchange(a, cells, 3, 5);
  EXPECT_NEAR(b.gap, 1.0 - 50.0 / 90.0, 1e-12);
  EXPECT_FALSE(b.proven_optimal);
}

TEST(Alternatives, pick_at_random_as_the_published_order_statistics_say) {
  std::mt19937_64 engine(7);
  const auto cells = lot(engine, 16 * 60, 0.01);
  double mean = 0.0, squares = 0.0;
  for (const auto& c : cells) mean += c.capacity.in(units::Ah) / double(cells.size());
  for (const auto& c : cells) squares += std::pow(c.capacity.in(units::Ah)-mean, 2);
  const double sd = std::sqrt(squares / (double(cells.size()) - 1.0));
  const auto others = match::alternatives(cells, {1, 16, 1}, 20000);
  EXPECT_NEAR(others.random_mean_Ah, mean - 1.7660 * sd, 0.03 * sd);
  const auto a = match::assign(cells, {1, 16, 1}, match::Aim::most_energy);
  EXPECT_GE(a.bank_capacity.in(units::Ah), others.sorted_Ah - 1e-9);
}

TEST(Robustness, is_certain_where_nothing_is_open_and_points_at_the_cell_that_is) {
  std::mt19937_64 engine(8);
  const auto cells = lot(engine, 20, 0.02);
  const match::Shape shape{1, 16, 1};
  const auto a = match::assign(cells, shape, match::Aim::most_energy);
  std::vector<double> u(cells.size(), 0.0);
  const auto sure = match::robustness(a, cells, u, shape);
  EXPECT_DOUBLE_EQ(sure.near_best, 1.0);
  EXPECT_NEAR(sure.expected_Ah, a.bank_capacity.in(units::Ah), 1e-9);
  const std::size_t weakest = a.packs[0].groups.back().cells[0];
  u[weakest] = 3.0;
  const auto open = match::robustness(a, cells, u, shape);
  EXPECT_EQ(open.retest, weakest);
  EXPECT_LT(open.near_best, 1.0);
  EXPECT_LT(open.expected_Ah, sure.expected_Ah);
}

}  // namespace
