// SPDX-License-Identifier: Apache-2.0
// A sample of the judging of the watch; `make judge` does all of it (docs/models/watch.md).
#include <gtest/gtest.h>

#include "tests/judge/watch/judging.hpp"

namespace {

judge::Outcome played(watch::Kind kind, double size, std::uint64_t seed) {
  judge::Line line;
  judge::Fault f;
  f.kind = kind;
  f.size = size;
  f.from_day = 60.0;
  line.scene.faults = {f};
  line.scene.days = 100.0;
  return judge::run(line, seed);
}

TEST(Judging, a_leak_of_3_mA_is_named_within_three_weeks_or_so) {
  const judge::Outcome o = played(watch::Kind::drift, 3.0, 31);
  ASSERT_TRUE(o.days_to_alarm);
  EXPECT_LT(*o.days_to_alarm, 28.0);
  EXPECT_EQ(o.named, watch::Kind::drift);
  EXPECT_EQ(o.other_alarms, 0);
}

TEST(Judging, a_joint_of_0_4_mOhm_is_named_within_a_fortnight) {
  const judge::Outcome o = played(watch::Kind::joint, 0.4, 32);
  ASSERT_TRUE(o.days_to_alarm);
  EXPECT_LT(*o.days_to_alarm, 14.0);
  EXPECT_EQ(o.named, watch::Kind::joint);
}

TEST(Judging, a_sense_lead_off_by_15_mV_is_named_within_a_fortnight) {
  const judge::Outcome o = played(watch::Kind::sense, 15.0, 33);
  ASSERT_TRUE(o.days_to_alarm);
  EXPECT_LT(*o.days_to_alarm, 14.0);
  EXPECT_EQ(o.named, watch::Kind::sense);
}

TEST(Judging, a_pack_that_never_leaves_the_middle_is_never_called_sound) {
  judge::Line line;
  line.scene.mid_only = true;
  line.scene.days = 60.0;
  const judge::Outcome o = judge::run(line, 34);
  EXPECT_EQ(o.cells_told_sound, 0);
  EXPECT_EQ(o.other_alarms, 0);
}

}  // namespace
