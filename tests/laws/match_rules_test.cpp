// SPDX-License-Identifier: Apache-2.0
// Rules that a builder sets, and later aims that give nothing of the first away.
#include <algorithm>
#include <random>
#include <set>

#include <gtest/gtest.h>

#include "match/rules.hpp"
#include "match/what_if.hpp"

namespace {

namespace units = base::units;

std::vector<match::Candidate> lot(int n, unsigned seed = 3) {
  std::mt19937_64 engine(seed);
  std::vector<match::Candidate> cells;
  const auto draw = [&] { return double(engine() >> 11) * 0x1.0p-53 - 0.5; };
  for (int i = 0; i < n; ++i)
    cells.push_back({"c" + std::to_string(i), (230.0 + 10.0 * draw()) * units::Ah,
                     0.4 + 0.1 * draw(), 3.0 + 2.0 * draw(), 0.04 + 0.02 * draw()});
  return cells;
}

std::vector<std::size_t> cells_of(const match::Pack& pack) {
  std::vector<std::size_t> all;
  for (const auto& g : pack.groups) all.insert(all.end(), g.cells.begin(), g.cells.end());
  return all;
}

TEST(Rules, hold_in_what_is_assigned) {
  const auto cells = lot(40);
  match::Rules rules;
  rules.fixed = {{0, 1, 3}, {1, 0, -1}};
  rules.kept_out = {5, 6};
  rules.least_capacity = 226.5 * units::Ah;
  rules.spares = 2;
  rules.spare_capacity = 230.0 * units::Ah;
  rules.lots = match::Lots::apart_in_group;
  for (int i = 0; i < 40; ++i) rules.lot_of.push_back(i % 2 == 0 ? "first" : "second");
  if (cells[0].capacity < rules.least_capacity || cells[1].capacity < rules.least_capacity)
    rules.least_capacity = {};
  const auto result = match::assign_under_rules(cells, {2, 7, 2}, match::Aim::most_energy, rules);
  ASSERT_TRUE(std::holds_alternative<match::Assignment>(result))
      << std::get<match::Conflict>(result).sentences.front();
  const auto& a = std::get<match::Assignment>(result);
  EXPECT_TRUE(std::count(a.packs[1].groups[3].cells.begin(), a.packs[1].groups[3].cells.end(), 0u));
  const auto first = cells_of(a.packs[0]);
  EXPECT_TRUE(std::count(first.begin(), first.end(), 1u));
  std::set<std::size_t> placed;
  for (const auto& pack : a.packs)
    for (const auto& g : pack.groups) {
      EXPECT_NE(rules.lot_of[g.cells[0]], rules.lot_of[g.cells[1]]);
      for (const std::size_t i : g.cells) {
        EXPECT_TRUE(placed.insert(i).second);
        EXPECT_GE(cells[i].capacity.si(), rules.least_capacity.si());
        EXPECT_TRUE(i != 5 && i != 6);
      }
    }
  std::size_t good = 0;
  for (const std::size_t s : a.spares) good += cells[s].capacity >= rules.spare_capacity;
  EXPECT_GE(good, 2u);
  EXPECT_LE(a.bank_capacity.si(), a.upper_bound.si() * (1.0 + 1e-12));
}

TEST(Rules, that_only_say_which_cells_keep_the_proof) {
  const auto cells = lot(40);
  match::Rules rules;
  rules.kept_out = {3, 9};
  rules.least_capacity = 225.5 * units::Ah;
  rules.spares = 2;
  const auto ruled = match::assign_under_rules(cells, {2, 16, 1}, match::Aim::most_energy, rules);
  const auto* a = std::get_if<match::Assignment>(&ruled);
  ASSERT_TRUE(a);
  EXPECT_TRUE(a->proven_optimal);
  for (const auto& pack : a->packs)
    for (const std::size_t i : cells_of(pack)) {
      EXPECT_TRUE(i != 3 && i != 9);
      EXPECT_GE(cells[i].capacity, rules.least_capacity);
    }
  EXPECT_EQ(a->spares.size(), 6u);
}

TEST(Rules, keep_lots_together_in_packs) {
  const auto cells = lot(24);
  match::Rules rules;
  rules.lots = match::Lots::together_in_pack;
  for (int i = 0; i < 24; ++i) rules.lot_of.push_back(i % 3 == 0 ? "x" : "y");
  const auto result = match::assign_under_rules(cells, {2, 4, 2}, match::Aim::even_packs, rules);
  ASSERT_TRUE(std::holds_alternative<match::Assignment>(result));
  for (const auto& pack : std::get<match::Assignment>(result).packs)
    for (const std::size_t i : cells_of(pack))
      EXPECT_EQ(rules.lot_of[i], rules.lot_of[cells_of(pack)[0]]);
}

TEST(Rules, that_cannot_all_hold_say_which) {
  const auto cells = lot(20);
  const match::Shape shape{1, 16, 1};
  const auto conflict = [&](const match::Rules& rules) {
    const auto result = match::assign_under_rules(cells, shape, match::Aim::most_energy, rules);
    return std::holds_alternative<match::Conflict>(result)
               ? std::get<match::Conflict>(result).sentences.front()
               : std::string();
  };
  match::Rules rules;
  rules.fixed = {{2, 0, 1}, {2, 0, 4}};
  EXPECT_NE(conflict(rules).find("fixed in two places"), std::string::npos);
  rules.fixed = {{2, 0, 1}, {3, 0, 1}};
  EXPECT_NE(conflict(rules).find("one group"), std::string::npos);
  rules.fixed = {{2, 5, 1}};
  EXPECT_NE(conflict(rules).find("does not have"), std::string::npos);
  rules = {};
  rules.kept_out = {0, 1, 2, 3, 4};
  EXPECT_NE(conflict(rules).find("may be placed"), std::string::npos);
  rules = {};
  rules.spares = 5;
  EXPECT_NE(conflict(rules).find("spares cannot"), std::string::npos);
  rules.spares = 2;
  rules.spare_capacity = 300.0 * units::Ah;
  EXPECT_NE(conflict(rules).find("must hold 300 Ah"), std::string::npos);
  rules = {};
  rules.place_least = {{0, 1, 300.0 * units::Ah}};
  EXPECT_NE(conflict(rules).find("must hold 300 Ah"), std::string::npos);
  rules.place_least = {{7, 1, 200.0 * units::Ah}};
  EXPECT_NE(conflict(rules).find("does not have"), std::string::npos);
  rules = {};
  rules.lots = match::Lots::together_in_pack;
  for (int i = 0; i < 20; ++i) rules.lot_of.push_back(i % 2 == 0 ? "x" : "y");
  EXPECT_NE(conflict(rules).find("lots together"), std::string::npos);
}

TEST(Rules, give_a_place_the_least_that_it_asks_for) {
  const auto cells = lot(40);
  const match::Shape shape{2, 8, 2};
  std::vector<double> sorted;
  for (const auto& c : cells) sorted.push_back(c.capacity.in(units::Ah));
  std::sort(sorted.rbegin(), sorted.rend());
  match::Rules rules;  // four of the six best cells in two groups of the second pack
  rules.place_least = {{1, 2, sorted[5] * units::Ah}, {1, 5, sorted[5] * units::Ah}};
  const auto result = match::assign_under_rules(cells, shape, match::Aim::most_energy, rules);
  ASSERT_TRUE(std::holds_alternative<match::Assignment>(result));
  const auto& a = std::get<match::Assignment>(result);
  const auto keeps = [&](const match::Assignment& x) {
    for (const int g : {2, 5})
      for (const std::size_t i : x.packs[1].groups[std::size_t(g)].cells)
        if (cells[i].capacity.in(units::Ah) < sorted[5] - 1e-9) return false;
    return true;
  };
  EXPECT_TRUE(keeps(a));
  const auto free = match::assign(cells, shape, match::Aim::most_energy);
  EXPECT_LE(a.bank_capacity.si(), free.bank_capacity.si() + 1e-6);
  const auto held = match::held_by_rules(a, rules);
  EXPECT_EQ(held.size(), 4u);
  const auto later = match::cool_ones_to_warm_places(
      match::refine(a, cells, {{match::LaterAim::Kind::even_resistance, 0.01}}, held), cells,
      {0, 1, 2, 3, 3, 2, 1, 0}, held);
  EXPECT_TRUE(keeps(later));
}

TEST(LaterAims, even_out_resistance_and_leak_and_give_nothing_away) {
  const auto cells = lot(66);
  const match::Shape shape{2, 16, 2};
  for (const match::Aim aim : {match::Aim::most_energy, match::Aim::even_packs}) {
    const auto a = match::assign(cells, shape, aim);
    const auto before = match::standing_of(a, cells);
    const auto b = match::refine(a, cells,
                                 {{match::LaterAim::Kind::even_resistance, 0.002},
                                  {match::LaterAim::Kind::even_leak, 0.002}});
    const auto after = match::standing_of(b, cells);
    EXPECT_LT(after.resistance_spread, 0.8 * before.resistance_spread);
    EXPECT_GE(b.bank_capacity.si(), a.bank_capacity.si() * (1.0 - 0.002) - 1e-6);
    const auto strict = match::refine(a, cells, {{match::LaterAim::Kind::even_resistance, 0.0}});
    EXPECT_GE(strict.bank_capacity.si(), a.bank_capacity.si() - 1e-3);
    EXPECT_GE(strict.smallest_pack.si(),
              aim == match::Aim::even_packs ? a.smallest_pack.si() - 1e-3 : 0.0);
    EXPECT_LE(match::standing_of(strict, cells).resistance_spread,
              before.resistance_spread + 1e-12);
    std::set<std::size_t> all;
    for (const auto& pack : b.packs)
      for (const std::size_t i : cells_of(pack)) EXPECT_TRUE(all.insert(i).second);
    EXPECT_EQ(all.size(), shape.places());
  }
}

TEST(LaterAims, bring_cells_together_that_reach_full_alike) {
  const auto cells = lot(66);
  const auto a = match::assign(cells, {4, 16, 1}, match::Aim::most_energy);
  const auto b = match::refine(a, cells, {{match::LaterAim::Kind::even_charge_top, 0.01}});
  EXPECT_LT(match::standing_of(b, cells).tail_spread,
            0.9 * match::standing_of(a, cells).tail_spread);
  EXPECT_GE(b.bank_capacity.si(), 0.99 * a.bank_capacity.si());
  const auto strict = match::refine(a, cells, {{match::LaterAim::Kind::even_charge_top, 0.0}});
  EXPECT_GE(strict.bank_capacity.si(), a.bank_capacity.si() - 1e-3);
}

TEST(WarmPlaces, take_the_cells_of_least_resistance) {
  const auto cells = lot(8);
  auto a = match::assign(cells, {1, 8, 1}, match::Aim::most_energy);
  const std::vector<double> warmth = {0, 1, 2, 3, 3, 2, 1, 0};
  const double bank = a.bank_capacity.si();
  a = match::cool_ones_to_warm_places(std::move(a), cells, warmth);
  EXPECT_DOUBLE_EQ(a.bank_capacity.si(), bank);
  const auto ohm = [&](std::size_t place) {
    return cells[a.packs[0].groups[place].cells[0]].resistance_mOhm;
  };
  EXPECT_LE(std::max(ohm(3), ohm(4)), std::min({ohm(2), ohm(5), ohm(1), ohm(6), ohm(0), ohm(7)}));
}

}  // namespace
