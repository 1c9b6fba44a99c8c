// SPDX-License-Identifier: Apache-2.0
#include "site/solar.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/delimited_text.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "base/small_random.hpp"
#include "site/dispatch.hpp"

namespace site {
namespace {

using base::InputError;

constexpr double radians = std::numbers::pi / 180.0;

// [Perez1990], the coefficients of higher precision of 1999.
struct PerezBin {
  double up_to, f11, f12, f13, f21, f22, f23;
};
constexpr std::array<PerezBin, 8> perez = {
    {{1.065, -0.0083117, 0.5877285, -0.0620636, -0.0596012, 0.0721249, -0.0220216},
     {1.230, 0.1299457, 0.6825954, -0.1513752, -0.0189325, 0.0659650, -0.0288748},
     {1.500, 0.3296958, 0.4868735, -0.2210958, 0.0554140, -0.0639588, -0.0260542},
     {1.950, 0.5682053, 0.1874525, -0.2951290, 0.1088631, -0.1519229, -0.0139754},
     {2.800, 0.8730280, -0.3920403, -0.3616149, 0.2255647, -0.4620442, 0.0012448},
     {4.500, 1.1326077, -1.2367284, -0.4118494, 0.2877813, -0.8230357, 0.0558651},
     {6.200, 1.0601591, -1.5999137, -0.3589221, 0.2642124, -1.1272340, 0.1310694},
     {1e300, 0.6777470, -0.3272588, -0.2504286, 0.1561313, -1.3765031, 0.2506212}}};

/// When within (or beside) its hour a value holds: where global = beam · cos z + diffuse fits best,
/// ten days of every month, to a twentieth of an hour.
double best_sample_h(const Weather& w) {
  double best = 0.5, least = 1e300;
  for (int k = -40; k <= 40; ++k) {
    const double sample_h = 0.5 + 0.05 * k;
    double off = 0.0;
    for (std::size_t i = 0; i < w.sky.size(); ++i) {
      if (i / 24 % 30 >= 10 || w.sky[i].beam < 50.0) continue;
      const SunPosition sun = sun_position(
          {julian_day_of(w.first_day, double(i) + sample_h - w.utc_offset_h)}, w.place);
      const double up = std::max(0.0, std::cos(sun.zenith_deg * radians));
      off += std::abs(w.sky[i].beam * up + w.sky[i].diffuse - w.sky[i].global);
    }
    if (off < least) least = off, best = sample_h;
  }
  return best;
}

}  // namespace

double extraterrestrial_W_m2(int n) {
  return 1367.0 * (1.0 + 0.033 * std::cos(2.0 * std::numbers::pi * n / 365.0));
}

double air_mass(double zenith_deg) {
  const double z = std::min(zenith_deg, 90.0);
  return 1.0 / (std::cos(z * radians) + 0.50572 * std::pow(96.07995 - z, -1.6364));
}

double clear_sky_W_m2(double zenith_deg) {
  const double c = std::cos(zenith_deg * radians);
  return c > 0.0 ? 1098.0 * c * std::exp(-0.059 / c) : 0.0;
}

double diffuse_share(double kt) {
  if (kt <= 0.22) return 1.0 - 0.09 * kt;
  if (kt > 0.80) return 0.165;
  return 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)));
}

Sky split_W_m2(double global, double zenith_deg, int day_of_year) {
  Sky s{.global = global, .beam = 0.0, .diffuse = global};
  const double cos_z = std::cos(zenith_deg * radians);
  if (cos_z > 0.02) {
    s.diffuse = global * diffuse_share(global / (extraterrestrial_W_m2(day_of_year) * cos_z));
    s.beam = std::max(0.0, global - s.diffuse) / cos_z;
  }
  return s;
}

double cos_incidence(double zenith_deg, double sun_azimuth_deg, const Plane& plane) {
  const double z = zenith_deg * radians, b = plane.tilt_deg * radians;
  return std::cos(z) * std::cos(b) +
         std::sin(z) * std::sin(b) * std::cos((sun_azimuth_deg - plane.azimuth_deg) * radians);
}

double on_plane_W_m2(const Sky& sky, double zenith_deg, double sun_azimuth_deg,
                     double extraterrestrial, const Plane& plane, SkyModel model) {
  const double b = plane.tilt_deg * radians, cos_z = std::cos(zenith_deg * radians);
  const double cos_t = std::max(0.0, cos_incidence(zenith_deg, sun_azimuth_deg, plane));
  const double beam = sky.beam * cos_t;
  const double seen = 0.5 * (1.0 + std::cos(b)), ground = 0.5 * (1.0 - std::cos(b));
  const double reflected = sky.global * plane.ground * ground;
  double diffuse = sky.diffuse * seen;
  if (model == SkyModel::hay_davies || model == SkyModel::hdkr) {
    const double A = sky.beam / extraterrestrial, R = cos_t / std::max(cos_z, 0.017);
    const double horizontal = sky.beam * std::max(cos_z, 0.0);
    const double f = sky.global > 0.0 ? std::sqrt(std::max(0.0, horizontal / sky.global)) : 0.0;
    const double horizon = model == SkyModel::hdkr ? 1.0 + f * std::pow(std::sin(0.5 * b), 3) : 1.0;
    diffuse = sky.diffuse * (A * R + (1.0 - A) * seen * horizon);
  } else if (model == SkyModel::perez && sky.diffuse > 0.0) {
    const double z = zenith_deg * radians, z3 = 1.041 * z * z * z;
    const double clearness = ((sky.diffuse + sky.beam) / sky.diffuse + z3) / (1.0 + z3);
    const double brightness = sky.diffuse * air_mass(zenith_deg) / extraterrestrial;
    const PerezBin& p = *std::find_if(perez.begin(), perez.end(),
                                      [&](const PerezBin& x) { return clearness < x.up_to; });
    const double F1 = std::max(0.0, p.f11 + p.f12 * brightness + p.f13 * z),
                 F2 = p.f21 + p.f22 * brightness + p.f23 * z;
    diffuse =
        sky.diffuse * ((1.0 - F1) * seen + F1 * cos_t / std::max(0.087, cos_z) + F2 * std::sin(b));
  }
  return std::max(0.0, beam + diffuse + reflected);
}

double module_C(double air_C, double plane_W_m2, double noct_C) {
  return air_C + (noct_C - 20.0) / 800.0 * plane_W_m2;
}

double power_kW(const Panels& panels, double plane_W_m2, double air_C) {
  const double C = module_C(air_C, plane_W_m2, panels.noct_C);
  const double direct = panels.peak_kW * plane_W_m2 / 1000.0 *
                        std::max(0.0, 1.0 + panels.per_K * (C - 25.0)) * (1.0 - panels.losses);
  static const Loss loss = loss_through(0.92, 0.96, 0.95);
  const double rated = panels.inverter_kW > 0.0 ? panels.inverter_kW : panels.peak_kW;
  if (direct <= 0.0) return 0.0;
  // What comes out of what goes in: p + k0 + k1 p + k2 p² = in.
  const double in = direct / rated, b = 1.0 + loss.k1;
  const double p =
      (std::sqrt(std::max(0.0, b * b + 4.0 * loss.k2 * (in - loss.k0))) - b) / (2.0 * loss.k2);
  return rated * std::clamp(p, 0.0, 1.0);
}

Weather read_epw(std::string_view bytes) {
  const std::string file = "weather.epw";
  Weather w;
  base::RowScanner scanner({',', '\n'});
  const auto number = [&](const base::Row& row, std::size_t column) {
    const auto value = column < row.fields.size()
                           ? base::parse_number(base::trimmed(row.fields[column]))
                           : std::nullopt;
    if (!value)
      throw InputError({file, row.line, column + 1},
                       column < row.fields.size()
                           ? fmt::format("'{}'", base::trimmed(row.fields[column]))
                           : std::string("a row that ends"),
                       "a number", "take the file as it was issued");
    return *value;
  };
  bool located = false;
  int year = 0;
  const auto take = [&](const base::Row& row) {
    if (base::trimmed(row.text).empty()) return;
    if (row.fields.front() == "LOCATION") {
      w.place = {number(row, 6), number(row, 7)};
      w.utc_offset_h = number(row, 8);
      located = true;
      if (!(std::abs(w.place.latitude_deg) <= 90.0) || !(std::abs(w.place.longitude_deg) <= 180.0))
        throw InputError(
            {file, row.line, 7},
            fmt::format("a place at {:g}, {:g}", w.place.latitude_deg, w.place.longitude_deg),
            "latitude to 90, longitude to 180 degrees", "correct the location");
      return;
    }
    // A file may say when within its hour the sun was looked at.
    constexpr std::string_view says = "Irradiance Time Offset (h):";
    if (const std::size_t at = row.text.find(says); at != std::string_view::npos)
      if (const auto offset = base::parse_number(base::trimmed(row.text.substr(at + says.size())));
          offset && *offset > -1.0 && *offset <= 0.0)
        w.said_h = 1.0 + *offset;
    if (row.fields.size() < 20 || !base::parse_number(base::trimmed(row.fields.front()))) return;
    if (w.sky.empty()) {
      year = int(number(row, 0));
      w.first_day =
          base::days_since_1970(year, int(number(row, 1)), int(number(row, 2))).value_or(0);
    }
    const Sky s = {number(row, 13), number(row, 14), number(row, 15)};
    const double air = number(row, 6);
    const auto impossible = [&](std::size_t column, double value, double low, double high) {
      if (value < low || value > high)
        throw InputError({file, row.line, column + 1}, fmt::format("{:g}", value),
                         fmt::format("{:g} to {:g}", low, high),
                         "a missing value is 9999 or 99.9: take a file without gaps");
    };
    impossible(13, s.global, -5.0, 1500.0), impossible(14, s.beam, -5.0, 1500.0);
    impossible(15, s.diffuse, -5.0, 1000.0), impossible(6, air, -70.0, 60.0);
    w.sky.push_back({std::max(0.0, s.global), std::max(0.0, s.beam), std::max(0.0, s.diffuse)});
    w.air_C.push_back(air);
  };
  scanner.feed(bytes, take);
  scanner.finish(take);
  if (!located)
    throw InputError({file, 1, 0}, "no LOCATION in the first lines", "a weather file in EPW form",
                     "take the file as it was issued");
  if (w.sky.size() != 8760 && w.sky.size() != 8784)
    throw InputError({file, 0, 0}, fmt::format("{} hours", w.sky.size()), "a year of 8760 or 8784",
                     "take the whole file");
  w.sample_h = best_sample_h(w);
  return w;
}

Weather sky_of_statistics(const Place& place, double utc_offset_h, long first_day,
                          const double (&clearness)[12], const double (&air_C)[12], unsigned seed) {
  Weather w;
  w.place = place;
  w.utc_offset_h = utc_offset_h;
  w.first_day = first_day;
  base::SmallRandom random(seed);
  double dull = 0.0;  // yesterday's deviation goes on into today
  for (int day = 0; day < 365; ++day) {
    const base::CivilDay c = base::civil_day(first_day + day);
    const auto m = std::size_t(c.month - 1);
    dull = 0.4 * dull + std::sqrt(1.0 - 0.16) * random.normal();
    const double share = std::clamp(clearness[m] + 0.22 * dull, 0.08, 1.0);
    for (int hour = 0; hour < 24; ++hour) {
      const SunPosition sun =
          sun_position({julian_day_of(first_day + day, hour + 0.5 - utc_offset_h)}, place);
      const double clear = clear_sky_W_m2(sun.zenith_deg);
      w.sky.push_back(
          split_W_m2(share * clear, sun.zenith_deg, base::day_of_year(first_day + day)));
      w.air_C.push_back(air_C[m] + 4.0 * std::sin((hour - 9.0) / 24.0 * 2.0 * std::numbers::pi));
    }
  }
  return w;
}

void put_solar(Year& year, double year_utc_offset_h, const Weather& weather, const Panels& panels,
               SkyModel model) {
  const std::size_t n = year.steps(), a_day = year.steps_a_day();
  year.solar_kW.assign(n, 0.0);
  const auto hours = std::ptrdiff_t(weather.sky.size());
  for (std::size_t i = 0; i < n; ++i) {
    const long day = year.first_day + long(i / a_day);
    const double utc_h = (double(i % a_day) + 0.5) * year.step_h - year_utc_offset_h;
    const SunPosition sun = sun_position({julian_day_of(day, utc_h)}, weather.place);
    if (sun.zenith_deg >= 89.0) continue;
    const int doy = base::day_of_year(day);
    const double x = double(doy - 1) * 24.0 + utc_h + weather.utc_offset_h - weather.sample_h;
    const auto hour = std::ptrdiff_t(std::floor(x));
    const double f = x - double(hour);
    const Sky &a = weather.sky[std::size_t(((hour % hours) + hours) % hours)],
              &b = weather.sky[std::size_t((((hour + 1) % hours) + hours) % hours)];
    Sky s;
    s.beam = a.beam + f * (b.beam - a.beam);
    s.diffuse = a.diffuse + f * (b.diffuse - a.diffuse);
    if (s.beam + s.diffuse <= 0.0) continue;
    s.beam *= 1.0 - panels.shading;
    s.global = s.diffuse + s.beam * std::cos(sun.zenith_deg * radians);
    const double outside = extraterrestrial_W_m2(doy);
    const double plane =
        on_plane_W_m2(s, sun.zenith_deg, sun.azimuth_deg, outside, panels.plane, model);
    year.solar_kW[i] =
        power_kW(panels, plane, weather.air_C[std::size_t(((hour % hours) + hours) % hours)]);
  }
}

}  // namespace site
