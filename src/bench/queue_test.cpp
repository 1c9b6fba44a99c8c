// SPDX-License-Identifier: Apache-2.0
#include "bench/queue.hpp"

#include <gtest/gtest.h>

namespace {

std::vector<bench::QueueTask> cells(int n) {
  std::vector<bench::QueueTask> tasks;
  for (int k = 0; k < n; ++k)
    tasks.push_back({.label = "K" + std::to_string(k + 1), .capacity_Ah = 230.0});
  return tasks;
}

// An example worked by hand beforehand: 230 Ah at 50 A takes about 13 h a cell with rests and
// handling; 18 cells take one tester about 10 days and two about 5. (Arithmetic, no source.)
TEST(Queue, agrees_with_an_example_worked_by_hand) {
  const bench::QueueRules rules{.runs_unattended = true};
  const auto one = bench::plan_queue(cells(18), {{"1", 50.0, 50.0}}, rules);
  EXPECT_NEAR(one.hours_a_cell, 13.0, 0.6);
  EXPECT_NEAR(one.days, 10.0, 3.0);  // cells are changed by day only
  const auto two = bench::plan_queue(cells(18), {{"1", 50.0, 50.0}, {"2", 50.0, 50.0}}, rules);
  EXPECT_NEAR(two.days, one.days / 2.0, 0.6);
}

TEST(Queue, changes_cells_only_while_somebody_is_there_and_never_two_on_one_tester) {
  for (const bool alone : {false, true}) {
    const bench::QueueRules rules{
        .attended_from_h = 17.0, .attended_to_h = 23.0, .runs_unattended = alone};
    const auto q = bench::plan_queue(cells(7), {{"1", 50.0, 25.0}, {"2", 20.0, 40.0}}, rules);
    ASSERT_EQ(q.slots.size(), 7u);
    for (const auto& s : q.slots) {
      const double of_day = std::fmod(s.start_h, 24.0);
      EXPECT_GE(of_day, 17.0);
      EXPECT_LE(of_day + rules.handling_h, 23.0 + 1e-9);
      EXPECT_LT(s.start_h, s.full_h);
      EXPECT_LE(s.full_h + rules.rest_h, s.discharge_h + 1e-9);
      EXPECT_LT(s.discharge_h, s.empty_h);
      EXPECT_LT(s.empty_h, s.end_h);
      EXPECT_DOUBLE_EQ(s.end_charge, 0.5);
      for (const auto& other : q.slots)
        if (&other != &s && other.tester == s.tester) {
          EXPECT_TRUE(other.end_h <= s.start_h + 1e-9 || s.end_h <= other.start_h + 1e-9);
        }
    }
  }
}

TEST(Queue, puts_suspects_first_and_passes_charge_on) {
  auto tasks = cells(3);
  tasks[2].suspect = true;
  bench::QueueRules rules{.runs_unattended = true};
  const auto mains = bench::plan_queue(tasks, {{"1", 50.0, 50.0}}, rules);
  EXPECT_EQ(mains.slots.front().label, "K3");
  rules.passes_charge_on = true;
  const auto passed = bench::plan_queue(tasks, {{"1", 50.0, 50.0}}, rules);
  EXPECT_LT(passed.hours_a_cell, mains.hours_a_cell);
  EXPECT_EQ(passed.slots.front().charged_from, "");
  EXPECT_EQ(passed.slots[1].charged_from, "K3");
  EXPECT_TRUE(bench::plan_queue({}, {{"1", 50.0, 50.0}}, rules).slots.empty());
}

}  // namespace
