// SPDX-License-Identifier: Apache-2.0
#include "site/tariff.hpp"

#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"

namespace {

TEST(TariffTable, holds_by_hours_days_and_months) {
  const auto bands = site::read_tariff(
      "name,price,from_h,to_h,days,months\n"
      "summer,0.20,,,all,4-9\n"
      "winter night,0.22,22,6,all,10-3\n"
      "winter day,0.36,6,22,workdays,10-3\n"
      "winter weekend,0.30,6,22,6+7,10-3\n",
      "tariff.csv");
  site::Year y;
  y.step_h = 1.0;
  y.first_day = *base::day_of("2025-01-01");  // a Wednesday
  y.load_kW.assign(8760, 0.0);
  const auto p = site::prices_of(y, bands, 0.08);
  EXPECT_EQ(p.buy[5], 0.22);
  EXPECT_EQ(p.buy[6], 0.36);
  EXPECT_EQ(p.buy[22], 0.22);
  EXPECT_EQ(p.buy[3 * 24 + 12], 0.30);    // Saturday
  EXPECT_EQ(p.buy[180 * 24 + 12], 0.20);  // June
}

TEST(TariffTable, refuses_gaps_overlaps_and_what_is_no_time) {
  const auto error = [](const std::string& text) {
    try {
      (void)site::read_tariff(text, "tariff.csv");
    } catch (const base::InputError& e) {
      return std::string(e.what());
    }
    return std::string("read");
  };
  EXPECT_NE(error("price,from_h,to_h\n0.3,6,22\n").find("no price at 00:00"), std::string::npos);
  const std::string twice = error("price,from_h,to_h\n0.3,0,24\n0.2,22,6\n");
  EXPECT_NE(twice.find("a second price at 00:00"), std::string::npos) << twice;
  EXPECT_NE(twice.find("line 2"), std::string::npos) << twice;
  EXPECT_NE(error("price,from_h,to_h\n0.3,0,25\n").find("25 h"), std::string::npos);
  EXPECT_NE(error("price,days\n0.3,Mo-Fr\n").find("'Mo-Fr'"), std::string::npos);
  EXPECT_NE(error("price,months\n0.3,0-12\n").find("'0-12'"), std::string::npos);
  EXPECT_NE(error("price\n").find("without a price"), std::string::npos);
}

}  // namespace
