// SPDX-License-Identifier: Apache-2.0
#include "site/load.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "base/calendar.hpp"
#include "base/check.hpp"
#include "base/small_random.hpp"

namespace site {
namespace {

// [VDEW1999] W for each 1000 kWh a year, hourly means; winter, summer, between, each workday,
// Saturday, Sunday.
constexpr double profile[24][9] = {{58.3, 67.0, 78.2, 73.7, 83.0, 89.6, 66.6, 73.2, 84.3},
                                   {43.2, 52.9, 56.3, 54.8, 64.3, 66.7, 49.2, 56.3, 62.2},
                                   {39.5, 42.1, 45.1, 49.8, 52.3, 54.5, 44.3, 46.5, 48.9},
                                   {38.5, 39.7, 41.1, 46.9, 50.0, 50.6, 43.1, 43.8, 44.3},
                                   {39.1, 38.5, 38.7, 48.8, 50.5, 50.0, 44.1, 43.1, 43.1},
                                   {46.8, 40.1, 38.6, 59.3, 51.6, 48.8, 52.6, 45.1, 43.3},
                                   {90.1, 53.1, 41.0, 97.9, 63.7, 51.3, 92.9, 58.6, 45.8},
                                   {129.4, 81.9, 50.0, 129.7, 93.1, 69.5, 129.7, 93.3, 65.6},
                                   {133.5, 119.7, 88.5, 141.6, 128.4, 112.5, 137.5, 129.7, 111.2},
                                   {123.2, 141.7, 138.5, 144.1, 155.8, 160.2, 136.0, 150.4, 159.5},
                                   {116.2, 147.9, 174.2, 139.2, 164.9, 186.6, 132.0, 163.3, 185.1},
                                   {118.3, 155.0, 202.8, 142.0, 171.1, 205.7, 133.3, 171.8, 205.2},
                                   {130.7, 166.6, 206.7, 157.8, 182.1, 209.4, 149.6, 181.4, 207.8},
                                   {129.5, 165.8, 173.0, 152.7, 176.0, 175.4, 145.7, 177.4, 168.7},
                                   {115.3, 153.4, 136.1, 131.8, 157.2, 144.1, 126.8, 161.3, 136.2},
                                   {104.8, 143.8, 116.6, 118.8, 148.4, 124.4, 113.4, 148.6, 121.0},
                                   {105.2, 144.7, 106.7, 114.8, 144.9, 108.4, 106.1, 146.5, 107.3},
                                   {128.7, 180.5, 125.7, 122.5, 149.0, 109.6, 116.3, 159.4, 111.8},
                                   {166.2, 209.4, 156.4, 142.2, 166.5, 126.6, 144.9, 183.3, 137.6},
                                   {187.1, 210.1, 176.3, 165.2, 180.4, 152.0, 171.9, 198.0, 160.9},
                                   {168.2, 172.0, 160.1, 166.6, 172.9, 159.4, 168.0, 180.4, 154.7},
                                   {141.0, 134.1, 135.5, 157.6, 153.8, 150.5, 155.9, 147.3, 143.9},
                                   {116.7, 122.5, 114.8, 144.5, 148.6, 140.2, 135.7, 138.6, 127.7},
                                   {86.4, 103.9, 84.6, 112.1, 124.7, 108.1, 100.3, 116.5, 94.0}};

/// Winter 1 November to 20 March, summer 15 May to 14 September.
int season(int month, int day) {
  const int d = month * 100 + day;
  if (d >= 1101 || d <= 320) return 0;
  return d >= 515 && d <= 914 ? 1 : 2;
}

}  // namespace

double day_factor(int t) {
  return 1.24 + t * (2.1e-3 + t * (-7.02e-5 + t * (3.2e-7 + t * -3.92e-10)));
}

double standard_profile_W(int month, int day, int day_of_year, int day_type, double hour) {
  // Straight between the middles of the hours.
  const double h = hour - 0.5;
  const double low = std::floor(h), f = h - low;
  const auto at = [&](int k) { return profile[(k + 24) % 24][season(month, day) * 3 + day_type]; };
  const int k = static_cast<int>(low);
  return day_factor(day_of_year) * (at(k) + f * (at(k + 1) - at(k)));
}

double air_heat_pump_cop(double lift_K) {
  const double d = std::clamp(lift_K, 15.0, 60.0);
  return 6.81 + d * (-0.121 + d * 0.000630);
}

namespace {

/// A base that is always on, and pulses drawn by the profile as a density: cooking, washing,
/// kettles. The day keeps its energy.
void put_pulses(std::span<double> day, double day_kWh, double dt, const House& house,
                base::SmallRandom& random) {
  const double base_share = 1.0 - 0.65 * std::min(1.0, house.peaky);
  std::vector<double> cumulative(day.size());
  double sum = 0.0;
  for (std::size_t i = 0; i < day.size(); ++i) cumulative[i] = sum += day[i];
  for (double& kW : day) kW *= base_share;
  const double annual = std::max(house.annual_kWh, 100.0) / 1000.0;
  double left = day_kWh * (1.0 - base_share);
  while (left > 1e-12) {
    // A pulse of 0.3 to 2.5 kW over a quarter to one and a half hours, in the profile's scale.
    const double kW = (0.3 + 2.2 * random.uniform()) / annual,
                 hours = 0.25 + 1.25 * random.uniform() * random.uniform();
    const double at = random.uniform() * sum;
    const auto start = std::size_t(std::lower_bound(cumulative.begin(), cumulative.end(), at) -
                                   cumulative.begin());
    const double kWh = std::min(left, kW * hours);
    double rest = kWh;
    for (std::size_t i = start; rest > 0.0; i = (i + 1) % day.size()) {
      const double piece = std::min(rest, kW * dt);
      day[i] += piece / dt;
      rest -= piece;
    }
    left -= kWh;
  }
}

/// Somebody at home by day, or nobody: the day keeps its energy.
void put_at_home(std::span<double> day, double day_kWh, double dt, double at_home) {
  double kWh = 0.0;
  for (std::size_t i = 0; i < day.size(); ++i) {
    const double hour = (double(i) + 0.5) * dt;
    if (hour > 8.0 && hour < 16.0) day[i] *= std::max(0.0, 1.0 + at_home);
    kWh += day[i] * dt;
  }
  for (double& kW : day) kW *= day_kWh / kWh;
}

void put_car(Year& year, std::size_t days, const House& house, base::SmallRandom& random) {
  const double dt = year.step_h, daily = house.car_kWh / 365.25;
  const std::size_t a_day = year.steps_a_day();
  double due = 0.0;
  for (std::size_t d = 0; d < days; ++d) {
    due += daily;
    if (due < 1.0 + 6.0 * random.uniform()) continue;  // not every evening
    const double from_h = 17.0 + 2.0 * random.uniform();
    for (std::size_t i = std::size_t(from_h / dt); due > 0.0 && d * a_day + i < year.steps(); ++i) {
      const double piece = std::min(due, house.car_kW * dt);
      year.load_kW[d * a_day + i] += piece / dt;
      due -= piece;
    }
  }
}

void put_heat(Year& year, std::size_t days, const House& house,
              const std::vector<double>& daily_air_C) {
  CHECK(daily_air_C.size() >= days);
  const std::size_t a_day = year.steps_a_day();
  const double years = double(days) / 365.25;
  double degrees = 0.0;
  for (std::size_t d = 0; d < days; ++d)
    degrees += std::max(0.0, house.heat_limit_C - daily_air_C[d]);
  for (std::size_t d = 0; d < days && degrees > 0.0; ++d) {
    const double heat =
        house.heat_kWh * years * std::max(0.0, house.heat_limit_C - daily_air_C[d]) / degrees;
    const double kW =
        heat / air_heat_pump_cop(house.flow_C - daily_air_C[d]) / (double(a_day) * year.step_h);
    for (std::size_t i = 0; i < a_day; ++i) year.load_kW[d * a_day + i] += kW;
  }
}

}  // namespace

void put_load(Year& year, const House& house, const std::vector<double>& daily_air_C) {
  const std::size_t a_day = year.steps_a_day(),
                    days = std::max<std::size_t>(1, year.steps() / a_day);
  CHECK(a_day > 0);
  base::SmallRandom random(house.seed);
  const double dt = year.step_h;
  double sum_kWh = 0.0;
  for (std::size_t d = 0; d < days; ++d) {
    const Clock first = clock_of(year, d * a_day);
    const int doy = base::day_of_year(year.first_day + long(d));
    const int type = first.weekday == 6 ? 2 : first.weekday == 5 ? 1 : 0;
    const std::span<double> day(year.load_kW.data() + d * a_day, a_day);
    double day_kWh = 0.0;
    for (std::size_t i = 0; i < a_day; ++i) {
      day[i] =
          standard_profile_W(first.month, first.day, doy, type, (double(i) + 0.5) * dt) / 1000.0;
      day_kWh += day[i] * dt;
    }
    if (type == 0 && house.at_home != 0.0) put_at_home(day, day_kWh, dt, house.at_home);
    if (house.peaky > 0.0) put_pulses(day, day_kWh, dt, house, random);
    for (const double kW : day) sum_kWh += kW * dt;
  }
  const double years = double(days) / 365.25;
  const double scale = sum_kWh > 0.0 ? house.annual_kWh * years / sum_kWh : 0.0;
  for (double& kW : year.load_kW) kW *= scale;
  if (house.car_kWh > 0.0) put_car(year, days, house, random);
  if (house.heat_kWh > 0.0) put_heat(year, days, house, daily_air_C);
}

}  // namespace site
