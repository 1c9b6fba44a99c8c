// SPDX-License-Identifier: Apache-2.0
#include "bench/calibration.hpp"

#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

// What goes in must come out: counts made from known gains and offsets.
std::vector<bench::ReferenceRun> runs(bool two_lengths) {
  std::vector<bench::ReferenceRun> list;
  const double gains[] = {0.010, -0.004, -0.006}, offsets[] = {0.05, -0.02, -0.03};
  const char* names[] = {"A", "B", "C"};
  for (int k = 0; k < 3; ++k)
    for (const double hours :
         two_lengths ? std::vector<double>{2.0, 8.0} : std::vector<double>{5.0, 5.0})
      list.push_back(
          {names[k], 100.0 * (1.0 + gains[k]) + (two_lengths ? offsets[k] * hours : 0.0), hours});
  return list;
}

TEST(Calibration, gives_back_the_gains_that_the_counts_were_made_with) {
  const auto c = bench::calibrate(runs(false)).value();
  EXPECT_NEAR(c.reference_Ah, 100.0, 1e-6);
  EXPECT_NEAR(c.channels[0].gain_percent.value, 1.0, 1e-6);
  EXPECT_NEAR(c.channels[1].gain_percent.value, -0.4, 1e-6);
  EXPECT_FALSE(c.channels[0].offset_A.has_value());
  EXPECT_NEAR(c.corrected_Ah("A", 101.0, 5.0), 100.0, 1e-6);
  EXPECT_NEAR(c.channels[0].before_percent, 1.0, 1e-6);
  EXPECT_NEAR(c.channels[0].after_percent, 0.0, 1e-6);
  EXPECT_LT(c.spread_after_percent, 1e-6);
  EXPECT_GT(c.spread_before_percent, 0.5);
  EXPECT_GT(c.channels[0].gain_percent.u, 0.0);  // two runs that agree are no proof of perfection
  EXPECT_DOUBLE_EQ(c.corrected_Ah("Z", 101.0, 5.0), 101.0);
}

TEST(Calibration, tells_offset_from_gain_where_runs_last_differently_long) {
  const auto c = bench::calibrate(runs(true)).value();
  EXPECT_NEAR(c.channels[0].offset_A->value, 0.05, 1e-5);
  EXPECT_NEAR(c.channels[2].offset_A->value, -0.03, 1e-5);
  EXPECT_NEAR(c.channels[2].gain_percent.value, -0.6, 1e-4);
  EXPECT_LT(c.spread_after_percent, 1e-4);
}

TEST(Calibration, takes_a_trusted_channel_as_right) {
  const auto c = bench::calibrate(runs(false), "B").value();
  EXPECT_NEAR(c.reference_Ah, 99.6, 1e-5);
  EXPECT_NEAR(c.channels[1].gain_percent.value, 0.0, 1e-6);
  EXPECT_FALSE(bench::calibrate({{"A", 100.0, 5.0}}).has_value());
}

TEST(Channels, say_where_a_row_is_wrong) {
  const auto list = bench::read_channels(
      "label,channel,charge_Ah,hours\nC01,1\nreference,1,100.2,5\nreference,2,99.8,5\n");
  EXPECT_EQ(list.channel_of.at("C01"), "1");
  EXPECT_EQ(list.reference.size(), 2u);
  for (const char* text : {"cell,channel\n", "label,channel,charge_Ah,hours\nreference,1,x,5\n",
                           "label,channel\nC01,\n", "label,channel\nreference,1\n"})
    EXPECT_THROW((void)bench::read_channels(text), base::InputError) << text;
}

}  // namespace
