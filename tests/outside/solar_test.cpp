// SPDX-License-Identifier: Apache-2.0
// Sun, sky and load against textbooks, and metered files with what they get wrong.
#include "site/solar.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "base/json.hpp"
#include "site/dispatch.hpp"
#include "site/intervals.hpp"
#include "site/load.hpp"
#include "tests/support/support.hpp"

namespace {

using site::Plane;
using site::Sky;
using site::SkyModel;

// [Duffie2013] examples 1.6.1 (0.817) and 2.15.1: latitude 40, 20 February, 9 to 10 h, slope 60
// south, I 1.04 MJ/m², reflectance 0.6: isotropic 1.17, 2.16.1: HDKR 1.28, and Perez 1.37 (MJ/m²).
TEST(Transposition, gives_a_textbooks_answers) {
  // 1.6.1: latitude 43, day 44, solar time 10:30, slope 45, 15° west of south.
  const double radians = M_PI / 180.0;
  const auto angles = [&](double lat, double decl, double hour_deg) {
    const double cos_z =
        std::cos(lat * radians) * std::cos(decl * radians) * std::cos(hour_deg * radians) +
        std::sin(lat * radians) * std::sin(decl * radians);
    const double z = std::acos(cos_z);
    const double az =
        std::copysign(std::acos((cos_z * std::sin(lat * radians) - std::sin(decl * radians)) /
                                (std::sin(z) * std::cos(lat * radians))),
                      hour_deg);
    return std::pair(z / radians, 180.0 + az / radians);
  };
  const auto [z1, a1] = angles(43.0, -14.0, -22.5);
  EXPECT_NEAR(site::cos_incidence(z1, a1, {.tilt_deg = 45.0, .azimuth_deg = 195.0}), 0.817, 1e-3);
  const auto [z, az] = angles(40.0, -11.58, -37.5);
  EXPECT_NEAR(z, 62.20, 0.03);
  const Plane plane = {.tilt_deg = 60.0, .azimuth_deg = 180.0, .ground = 0.60};
  EXPECT_NEAR(std::acos(site::cos_incidence(z, az, plane)) / radians, 36.97, 0.1);
  // MJ/m² in an hour as W/m².
  const double W = 1e6 / 3600.0, I = 1.04, kt = 0.44542, fd = site::diffuse_share(kt);
  EXPECT_NEAR(fd, 0.76548, 5e-5);
  const double cos_z = std::cos(z * radians);
  const Sky sky = {I * W, (I - I * fd) * W / cos_z, I * fd * W};
  const double out = site::extraterrestrial_W_m2(51);
  const auto on = [&](SkyModel m) { return site::on_plane_W_m2(sky, z, az, out, plane, m) / W; };
  EXPECT_NEAR(on(SkyModel::isotropic), 1.171, 0.003);
  EXPECT_NEAR(on(SkyModel::hdkr), 1.283, 0.006);
  EXPECT_NEAR(on(SkyModel::hay_davies), 1.251, 0.006);
  EXPECT_NEAR(on(SkyModel::perez), 1.370, 0.006);
}

TEST(Sky, follows_the_published_tables) {
  // [Erbs1982]
  for (const auto& [kt, share] : {std::pair{0.10, 0.991},
                                  {0.22, 0.9802},
                                  {0.30, 0.9486},
                                  {0.40, 0.83999},
                                  {0.50, 0.65915},
                                  {0.60, 0.43948},
                                  {0.80, 0.16527}})
    EXPECT_NEAR(site::diffuse_share(kt), share, 1e-5);
  // [KastenYoung1989]
  for (const auto& [zenith, mass] :
       {std::pair{0.0, 0.9997}, {60.0, 1.9943}, {75.0, 3.8129}, {85.0, 10.3058}, {90.0, 37.920}})
    EXPECT_NEAR(site::air_mass(zenith), mass, 5e-4);
  // [Haurwitz1945]
  for (const auto& [zenith, W] :
       {std::pair{0.0, 1035.09}, {45.0, 714.25}, {60.0, 487.89}, {80.0, 135.74}})
    EXPECT_NEAR(site::clear_sky_W_m2(zenith), W, 0.01);
  // [Masters2013]: 30 °C, 1 kW/m², NOCT 47, 150 W, −0.5 %/K: 64 °C and 121 W.
  EXPECT_NEAR(site::module_C(30.0, 1000.0, 47.0), 63.75, 1e-9);
}

// The whole of a typical year at 45 N: its sums, and what panels that face south give, between
// what such panels are known to give there.
TEST(TypicalYear, is_read_and_tilted) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  const site::Weather w = site::read_epw(support::read(data / "raw" / "tmy_45N_8E.epw"));
  const auto reference = base::Json::parse(support::read(data / "reference.json"))["tmy_45N_8E"];
  ASSERT_EQ(w.sky.size(), reference["epw_rows"].get<std::size_t>());
  double global = 0.0, air = 0.0;
  for (std::size_t i = 0; i < w.sky.size(); ++i)
    global += w.sky[i].global / 1000.0, air += w.air_C[i];
  EXPECT_NEAR(global, reference["epw_ghi_kWh_m2"].get<double>(), 0.01);
  EXPECT_NEAR(air / 8760.0, reference["t_mean"].get<double>(), 0.01);
  // The file says zone +1, its numbers say that they are in UTC, sampled 0.176 h after the hour.
  EXPECT_NEAR(w.sample_h - w.utc_offset_h, 0.1761, 0.03);
  EXPECT_NEAR(w.said_h, 0.1761, 1e-9);
  site::Year y;
  y.step_h = 0.25;
  y.first_day = *base::day_of("2023-01-01");
  y.load_kW.assign(35040, 1.0);
  const auto sum = [&](double tilt, double azimuth, double shading = 0.0) {
    site::put_solar(
        y, 0.0, w,
        {.peak_kW = 1.0, .plane = {.tilt_deg = tilt, .azimuth_deg = azimuth}, .shading = shading});
    double kWh = 0.0;
    for (const double kW : y.solar_kW) kWh += kW * 0.25;
    return kWh;
  };
  const double flat = sum(0.0, 180.0), south = sum(35.0, 180.0), north = sum(35.0, 0.0),
               east = sum(35.0, 90.0), west = sum(35.0, 270.0);
  EXPECT_GT(south, 1.12 * flat);  // common knowledge of the latitude: a tenth to a sixth more
  EXPECT_LT(south, 1.25 * flat);
  EXPECT_LT(north, 0.75 * flat);
  EXPECT_NEAR(east / west, 1.0, 0.08);
  EXPECT_GT(south, 1150.0);  // kWh a kW and year
  EXPECT_LT(south, 1500.0);
  EXPECT_LT(sum(35.0, 180.0, 0.3), 0.85 * south);
  // Damaged files are refused with their line.
  std::string text = support::read(data / "raw" / "tmy_45N_8E.epw");
  EXPECT_THROW((void)site::read_epw(text.substr(0, text.size() / 2)), base::InputError);
  EXPECT_THROW((void)site::read_epw("2018,1,1,1,0\n"), base::InputError);
}

// [VDEW1999] the day factor's table; days' energies of the static profile; the year's sum.
TEST(StandardProfile, is_the_published_one) {
  for (const auto& [t, F] :
       {std::pair{1, 1.24203}, {91, 1.064035}, {182, 0.795935}, {305, 1.037154}, {365, 1.257216}})
    EXPECT_NEAR(site::day_factor(t), F, 5e-6);
  const auto day_kWh = [](int month, int day, int type) {
    double sum = 0.0;
    for (int i = 0; i < 96; ++i)
      sum += site::standard_profile_W(month, day, 1, type, (i + 0.5) / 4.0) / site::day_factor(1) /
             4e3;
    return sum;
  };
  EXPECT_NEAR(day_kWh(1, 10, 0), 2.5561, 0.002);
  EXPECT_NEAR(day_kWh(7, 10, 1), 3.0330, 0.002);
  EXPECT_NEAR(day_kWh(10, 1, 2), 2.7699, 0.002);
  // [Staffell2012]
  EXPECT_NEAR(site::air_heat_pump_cop(20.0), 4.642, 5e-4);
  EXPECT_NEAR(site::air_heat_pump_cop(43.0), 2.772, 5e-4);
  for (const double peaky : {0.0, 1.0}) {
    site::Year y;
    y.first_day = *base::day_of("2025-01-01");
    y.load_kW.assign(35040, 0.0), y.solar_kW.assign(35040, 0.0);
    site::put_load(y, {.annual_kWh = 4200.0, .peaky = peaky});
    double sum = 0.0, highest = 0.0;
    for (const double kW : y.load_kW) sum += kW / 4.0, highest = std::max(highest, kW);
    EXPECT_NEAR(sum, 4200.0 * 365.0 / 365.25, 0.01);
    if (peaky == 0.0) {
      EXPECT_NEAR(highest / 4.2, 0.268, 0.012);  // kW for each MWh a year, published
    } else {
      EXPECT_GT(highest, 3.0);
    }
  }
}

// [Weniger2014]: a kilowatt of panels and a usable kilowatt-hour for each MWh a year give some 54 %
// self-sufficiency, and about 30 % without a store. The smooth profile flatters: 58 to 66 %.
TEST(SelfSufficiency, lies_where_it_was_published_for_a_household_that_jumps) {
  const double clear[12] = {0.50, 0.56, 0.62, 0.68, 0.72, 0.72, 0.72, 0.71, 0.68, 0.60, 0.48, 0.43};
  const double air[12] = {0, 1, 5, 9, 14, 17, 19, 18, 14, 9, 4, 1};
  site::Year y;
  y.first_day = *base::day_of("2025-01-01");
  y.load_kW.assign(35040, 0.0);
  const site::Weather w = site::sky_of_statistics({52.5, 13.4}, 1.0, y.first_day, clear, air, 7);
  site::put_solar(y, 1.0, w, {.peak_kW = 4.0});
  double solar = 0.0;
  for (const double kW : y.solar_kW) solar += kW / 4.0;
  EXPECT_NEAR(solar / 4.0, 1000.0, 120.0);  // kWh a kW and year, as in that study
  const auto share = [&](double peaky, double kWh) {
    site::put_load(y, {.annual_kWh = 4000.0, .peaky = peaky});
    site::Store s;
    s.usable_kWh = kWh;
    s.charge_kW = s.discharge_kW = 2.0;
    return site::dispatch(y, nullptr, s, {}).self_sufficiency();
  };
  EXPECT_GT(share(1.0, 4.0), 0.50);
  EXPECT_LT(share(1.0, 4.0), 0.60);
  EXPECT_GT(share(1.0, 0.0), 0.27);
  EXPECT_LT(share(1.0, 0.0), 0.36);
  EXPECT_GT(share(0.0, 4.0), 0.58);
  EXPECT_LT(share(0.0, 4.0), 0.67);
}

/// A metered year in quarter hours on a clock with summer time.
std::string meter(const std::string& column, double factor, bool summer_time = true,
                  const std::string& from = "2025-01-01") {
  std::string text = "time," + column + "\n";
  const long first = *base::day_of(from), spring = *base::day_of("2025-03-30"),
             autumn = *base::day_of("2025-10-26");
  double counter = 1000.0;
  for (long i = 0; i < 366 * 96; ++i) {
    long minute = first * 1440 + i * 15;
    if (summer_time && minute >= spring * 1440 + 120 && minute < autumn * 1440 + 120) minute += 60;
    const base::CivilDay c = base::civil_day(minute / 1440);
    const double kW = 0.4 + 0.3 * double((i / 4) % 24 > 17) + 0.1 * double(i % 7 == 0);
    counter += kW * 0.25;
    text += fmt::format("{:04}-{:02}-{:02} {:02}:{:02},{:.5f}\n", c.year, c.month, c.day,
                        minute % 1440 / 60, minute % 60,
                        column.find("counter") != std::string::npos ? counter : kW * factor);
  }
  return text;
}
std::string without(std::string text, const std::string& from, const std::string& to) {
  const std::size_t a = text.find(from), b = text.find(to);
  EXPECT_TRUE(a != std::string::npos && b != std::string::npos && a < b) << from << to;
  return text.erase(a, b - a);
}
std::string ids(const site::Metered& m) {
  std::string list;
  for (const auto& f : m.findings) list += std::string(findings::word(f.id)) + " ";
  return list;
}

TEST(MeteredYear, comes_out_alike_in_every_unit_and_with_summer_time) {
  const site::Metered m = site::read_intervals(meter("load_kW", 1.0), "load.csv");
  ASSERT_EQ(m.year.steps(), 35040u);
  EXPECT_EQ(ids(m), "summer-time ");
  for (const auto& [column, factor] :
       {std::pair{"load_kWh", 0.25}, {"load_W", 1000.0}, {"load_Wh", 250.0}}) {
    const site::Metered other = site::read_intervals(meter(column, factor), "load.csv");
    for (std::size_t i = 0; i < 35040; i += 997)
      EXPECT_NEAR(other.year.load_kW[i], m.year.load_kW[i], 1e-4) << column;
  }
  const site::Metered counted = site::read_intervals(meter("load_counter_kWh", 1.0), "load.csv");
  for (std::size_t i = 0; i < 35039; i += 997)
    EXPECT_NEAR(counted.year.load_kW[i], m.year.load_kW[i + 0], 0.41) << i;
  const site::Metered winter = site::read_intervals(meter("load_kW", 1.0, false), "load.csv");
  EXPECT_EQ(ids(winter), "");
  for (std::size_t i = 0; i < 35040; ++i) ASSERT_EQ(winter.year.load_kW[i], m.year.load_kW[i]) << i;
}

TEST(MeteredYear, tells_or_refuses_what_is_wrong_with_it) {
  const std::string good = meter("load_kW", 1.0, false);
  EXPECT_EQ(ids(site::read_intervals(without(good, "2025-05-05 10:00", "2025-05-05 11:00"), "f")),
            "small-gaps-filled ");
  EXPECT_EQ(ids(site::read_intervals(without(good, "2025-05-05 10:00", "2025-05-08 11:00"), "f")),
            "long-gaps-filled ");
  std::string doubled = good;
  const std::size_t at = doubled.find("2025-06-06 12:00");
  const std::string row = doubled.substr(at, doubled.find('\n', at) - at + 1);
  EXPECT_EQ(ids(site::read_intervals(std::string(doubled).insert(at, row), "f")), "rows-twice ");
  const auto refused = [&](const std::string& text, const std::string& word) {
    try {
      (void)site::read_intervals(text, "load.csv");
      ADD_FAILURE() << word;
    } catch (const base::InputError& e) {
      EXPECT_EQ(e.place().file, "load.csv");
      EXPECT_NE((e.found() + e.expected() + e.remedy()).find(word), std::string::npos)
          << e.found() << " / " << e.expected();
    }
  };
  refused(std::string(doubled).insert(at, "2025-06-06 12:00,9.9\n"), "one row");
  refused(meter("load", 1.0, false), "_kWh");  // kW or kWh? not guessed
  refused(good.substr(0, good.size() / 2), "365 or more");
  refused(without(good, "2025-02-01 00:00", "2025-06-01 00:00"), "few gaps");
  refused(std::string("time,load_kW\n2025-13-01 00:00,1\n"), "2025-03-30 01:45");
  std::string rising = "time,load_kWh\n";
  for (long i = 0; i < 366 * 24; ++i) {
    const base::CivilDay c = base::civil_day(*base::day_of("2025-01-01") + i / 24);
    rising += fmt::format("{:04}-{:02}-{:02} {:02}:00,{:.3f}\n", c.year, c.month, c.day, i % 24,
                          0.01 * double(i));
  }
  refused(rising, "counter_kWh");
  // A counter that starts again is told.
  std::string counter = "time,import_counter_kWh\n";
  for (long i = 0; i < 366 * 24; ++i) {
    const base::CivilDay c = base::civil_day(*base::day_of("2025-01-01") + i / 24);
    counter += fmt::format("{:04}-{:02}-{:02} {:02}:00,{:.3f}\n", c.year, c.month, c.day, i % 24,
                           0.5 * double(i % 5000));
  }
  EXPECT_EQ(ids(site::read_intervals(counter, "f")),
            "small-gaps-filled counter-started-again import-as-load ");
  // Thirteen months: the latest year.
  EXPECT_EQ(ids(site::read_intervals(meter("load_kW", 1.0, false, "2024-12-01") +
                                         meter("load_kW", 1.0, false, "2025-12-02").substr(13),
                                     "f")),
            "more-than-a-year ");
}

// A year of hours at three latitudes against the approximate solar coordinates of [USNO], good to
// about an arc minute: both claims together, 0.5 and 1 arc minute.
TEST(SunPosition, agrees_with_another_formula_through_a_whole_year) {
  constexpr double rad = M_PI / 180.0;
  double worst = 0.0;
  for (const double latitude : {-33.0, 15.0, 60.0})
    for (int h = 0; h < 8760; ++h) {
      const double longitude = 24.0;
      const double jd = site::julian_day_of(*base::day_of("2025-01-01"), double(h) + 0.25);
      const double D = jd - 2451545.0;
      const double g = (357.529 + 0.98560028 * D) * rad, q = 280.459 + 0.98564736 * D;
      const double L = (q + 1.915 * std::sin(g) + 0.020 * std::sin(2.0 * g)) * rad,
                   e = (23.439 - 0.00000036 * D) * rad;
      const double ascension = std::atan2(std::cos(e) * std::sin(L), std::cos(L)),
                   declination = std::asin(std::sin(e) * std::sin(L));
      const double sidereal_h = 18.697374558 + 24.06570982441908 * D;  // from memory
      const double angle = (15.0 * sidereal_h + longitude) * rad - ascension;
      const double cos_z = std::sin(latitude * rad) * std::sin(declination) +
                           std::cos(latitude * rad) * std::cos(declination) * std::cos(angle);
      const double zenith = std::acos(cos_z) / rad + 0.00244 * std::sqrt(1.0 - cos_z * cos_z);
      worst = std::max(
          worst, std::abs(zenith - site::sun_position({jd}, {latitude, longitude}).zenith_deg));
    }
  EXPECT_LT(worst, 1.5 / 60.0);
}

}  // namespace
