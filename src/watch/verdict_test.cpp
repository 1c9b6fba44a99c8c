// SPDX-License-Identifier: Apache-2.0
#include "watch/verdict.hpp"

#include <gtest/gtest.h>

namespace {

namespace units = base::units;
using watch::BalanceVerdict;

BalanceVerdict verdict(std::vector<double> volts, double hours = 12.0) {
  return watch::judge_balance({volts, hours * units::h, 3.0 * units::mV}).verdict;
}

TEST(JudgeBalance, refuses_readings_on_the_flat_part_and_before_rest) {
  EXPECT_EQ(verdict({3.300, 3.300, 3.301}), BalanceVerdict::refused_flat);
  EXPECT_EQ(verdict({3.05, 3.06}, 0.1), BalanceVerdict::refused_not_rested);
}

TEST(JudgeBalance, judges_near_empty_and_near_full) {
  EXPECT_EQ(verdict({3.050, 3.051}), BalanceVerdict::within);
  EXPECT_EQ(verdict({2.950, 3.090}), BalanceVerdict::apart);
  EXPECT_EQ(verdict({3.45, 3.55}), BalanceVerdict::apart);
}

}  // namespace
