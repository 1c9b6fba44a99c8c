// SPDX-License-Identifier: Apache-2.0
#include "site/intervals.hpp"

#include <cmath>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "site/load.hpp"

namespace {

/// A year of the statistic of clouds, written as a table of the global alone.
struct Written {
  site::Weather weather;
  std::string text = "time,global_W_m2,air_C\n";
  Written() {
    const double clear[12] = {0.5, 0.5, 0.6, 0.6, 0.7, 0.7, 0.7, 0.7, 0.6, 0.6, 0.5, 0.5},
                 air[12] = {};
    weather = site::sky_of_statistics({50.0, 9.0}, 1.0, *base::day_of("2025-01-01"), clear, air, 1);
    for (std::size_t h = 0; h < weather.sky.size(); ++h)
      text += fmt::format("{} {:02}:00,{:.9f},{:.9f}\n",
                          base::day_text(weather.first_day + long(h / 24)), h % 24,
                          weather.sky[h].global, weather.air_C[h]);
  }
};

TEST(WeatherTable, splits_the_global_as_the_statistic_does) {
  const Written year;
  const site::Weather read = site::read_weather(year.text, "weather.csv", {50.0, 9.0}, 1.0);
  ASSERT_EQ(read.sky.size(), 8760u);
  EXPECT_EQ(read.first_day, year.weather.first_day);
  for (std::size_t h = 0; h < 8760; ++h) {
    EXPECT_NEAR(read.sky[h].beam, year.weather.sky[h].beam, 1e-5) << h;
    EXPECT_NEAR(read.sky[h].diffuse, year.weather.sky[h].diffuse, 1e-5) << h;
    EXPECT_NEAR(read.air_C[h], year.weather.air_C[h], 1e-8);
  }
}

TEST(WeatherTable, refuses_what_is_no_year_of_weather) {
  const Written year;
  const auto error = [](const std::string& text) {
    try {
      (void)site::read_weather(text, "weather.csv", {50.0, 9.0}, 1.0);
    } catch (const base::InputError& e) {
      return std::string(e.what());
    }
    return std::string("read");
  };
  EXPECT_EQ(error(year.text), "read");
  EXPECT_NE(error(year.text.substr(0, 1000).substr(0, year.text.substr(0, 1000).rfind('\n') + 1))
                .find("8760 hours"),
            std::string::npos);
  std::string gap = year.text;
  gap.erase(gap.find("2025-01-01 05:00"),
            gap.find("2025-01-01 06:00") - gap.find("2025-01-01 05:00"));
  EXPECT_NE(error(gap).find("120 minutes after"), std::string::npos) << error(gap);
  std::string missing = year.text;
  missing.replace(missing.find("2025-01-01 05:00,") + 17, 11, "9999");
  EXPECT_NE(error(missing).find("9999"), std::string::npos) << error(missing);
}

TEST(StandardLoad, follows_who_is_at_home_and_keeps_the_year) {
  const auto noon = [](double at_home) {
    site::Year y;
    y.first_day = *base::day_of("2025-01-01");
    y.load_kW.assign(35040, 0.0);
    site::put_load(y, {.annual_kWh = 4000.0, .peaky = 0.0, .seed = 1, .at_home = at_home});
    double sum = 0.0, midday = 0.0;
    for (std::size_t i = 0; i < y.steps(); ++i) {
      sum += y.load_kW[i] * y.step_h;
      const site::Clock c = site::clock_of(y, i);
      if (c.weekday < 5 && c.hour >= 8.0 && c.hour < 16.0) midday += y.load_kW[i] * y.step_h;
    }
    EXPECT_NEAR(sum, 4000.0 * 365.0 / 365.25, 1.0);
    return midday / sum;
  };
  EXPECT_LT(noon(-0.5), noon(0.0));
  EXPECT_LT(noon(0.0), noon(0.5));
}

}  // namespace
