// SPDX-License-Identifier: Apache-2.0
#include "wiring/joints.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

namespace units = base::units;

layout::Layout two_packs() { return {.packs = 2, .series = 16, .parallel = 1}; }

std::string readings(const layout::Layout& l, const std::string& bad, double bad_mV) {
  std::string text = "joint,current_A,mV\n";
  int i = 0;
  for (const std::string& name : wiring::joint_names(l))
    text += fmt::format("{},50,{}\n", name, name == bad ? bad_mV : 4.0 + 0.1 * (++i % 5));
  return text;
}

TEST(JointMap, finds_the_one_that_is_loose_and_none_where_all_are_alike) {
  const auto l = two_packs();
  EXPECT_EQ(wiring::joint_names(l).size(), 34u);
  const auto good =
      wiring::joint_map(l, 2, wiring::read_joints(readings(l, "", 0), l), 60.0 * units::A);
  EXPECT_EQ(good.measured, 34u);
  EXPECT_TRUE(good.findings.empty()) << good.findings.front().what;
  const auto bad =
      wiring::joint_map(l, 2, wiring::read_joints(readings(l, "B-04/05", 9.0), l), 60.0 * units::A);
  ASSERT_EQ(bad.findings.size(), 1u);
  EXPECT_EQ(bad.findings[0].id, findings::Id::joint_stands_out);
  EXPECT_EQ(bad.findings[0].where, "B-04/05");
  EXPECT_EQ(bad.findings[0].severity, findings::Severity::caution);
  for (const wiring::Joint& j : bad.joints) {
    if (j.name != "B-04/05") continue;
    EXPECT_NEAR(*j.measured_uOhm, 180.0, 1e-9);
    EXPECT_NEAR(j.drop_mV, 10.8, 1e-9);
    EXPECT_NEAR(j.heat_W, 0.648, 1e-9);
  }
  // One of a milliohm eats ten watts at a hundred amperes: that is no caution any more.
  const auto fire = wiring::joint_map(l, 2, wiring::read_joints(readings(l, "A-09/10", 50.0), l),
                                      100.0 * units::A);
  ASSERT_EQ(fire.findings.size(), 1u);
  EXPECT_EQ(fire.findings[0].severity, findings::Severity::stop);
  // All alike and all too much.
  std::string all = "joint,current_A,mV\n";
  for (int g = 1; g < 8; ++g) all += fmt::format("A-{:02}/{:02},50,15\n", g, g + 1);
  EXPECT_EQ(
      wiring::joint_map(l, 2, wiring::read_joints(all, l), 100.0 * units::A).findings.front().id,
      findings::Id::joint_drops_too_much);
}

TEST(JointMap, refuses_what_says_nothing) {
  const auto l = two_packs();
  for (const char* row : {"A-17/18,50,4", "A-01/02,0,4", "A-01/02,50,", "A-01/02,50,-4",
                          "A-01/02,50,4\nA-01/02,50,4"})
    EXPECT_THROW((void)wiring::read_joints(std::string("joint,current_A,mV\n") + row + "\n", l),
                 base::InputError)
        << row;
  // Both leads the other way round is the same joint.
  EXPECT_EQ(wiring::read_joints("joint,current_A,mV\nA-plus,-50,-4\n", l).front().mV, 4.0);
}

TEST(Bolts, hold_by_enough_thread_and_never_by_the_ground_of_the_hole) {
  const auto found = [](double bolt, double stack, double depth) {
    const auto r = wiring::check_bolt({.diameter_mm = 6.0,
                                       .length_mm = bolt,
                                       .stack_mm = stack,
                                       .depth_mm = depth,
                                       .torque_Nm = {}});
    return r.findings.empty() ? std::string() : std::string(findings::word(r.findings.front().id));
  };
  EXPECT_EQ(found(16, 5, 12), "");
  EXPECT_EQ(
      found(10, 3.5, 12),
      findings::word(findings::Id::thread_engagement));  // 6.5 mm: such threads were seen to strip
  EXPECT_EQ(found(16, 3, 10), findings::word(findings::Id::bolt_bottoms_out));
  EXPECT_EQ(found(4, 5, 10), findings::word(findings::Id::bolt_too_short));
  // T/(K d): 5 N·m on M6 press with 4.2 kN, 8 N·m with 6.7, 10 N·m on M8 with 6.3.
  for (const auto& [d, T, kN] : {std::tuple{6.0, 5.0, 4.2}, {6.0, 8.0, 6.7}, {8.0, 10.0, 6.3}}) {
    const auto r = wiring::check_bolt(
        {.diameter_mm = d, .length_mm = {}, .stack_mm = {}, .depth_mm = {}, .torque_Nm = T});
    EXPECT_NEAR(0.5 * (*r.force_low_kN + *r.force_high_kN), kN, 0.06);
    EXPECT_LT(*r.force_low_kN, 0.75 * kN);
  }
}

}  // namespace
