// SPDX-License-Identifier: Apache-2.0
#include "site/sun.hpp"

#include <charconv>
#include <cmath>
#include <numbers>

#include "base/calendar.hpp"

namespace site {
namespace {

constexpr double pi = std::numbers::pi, radian = pi / 180.0;

std::optional<double> digits(std::string_view text) {
  double value = 0.0;
  const auto [end, error] =
      std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
  if (error != std::errc() || end != text.data() + text.size() || text.empty() ||
      text.front() == '-')
    return std::nullopt;
  return value;
}

struct Coefficients {
  double p[15];
};
constexpr Coefficients psa_2001 = {{2.1429, -0.0010394594, 4.8950630, 0.017202791698, 6.2400600,
                                    0.0172019699, 0.03341607, 0.00034894, -0.0001134, -0.0000203,
                                    0.4090928, -6.2140e-9, 0.0000396, 6.6974243242, 0.0657098283}};
constexpr Coefficients psa_2020 = {{2.267127827, -9.300339267e-4, 4.895036035, 1.720279602e-2,
                                    6.239468336, 1.720200135e-2, 3.338320972e-2, 3.497596876e-4,
                                    -1.544353226e-4, -8.689729360e-6, 4.090904909e-1,
                                    -6.213605399e-9, 4.418094944e-5, 6.697096103, 6.570984737e-2}};
constexpr double julian_day_2000 = 2451545.0, julian_day_of_2020 = 2458849.5;
constexpr double parallax = 6371.01 / 149597890.0;  // earth's radius over the distance to the sun

}  // namespace

std::optional<Moment> parse_utc(std::string_view text) {
  // YYYY-MM-DDThh:mm[:ss[.f]][Z|+hh:mm]
  if (text.size() < 16 || text[4] != '-' || text[7] != '-' ||
      (text[10] != 'T' && text[10] != ' ') || text[13] != ':')
    return std::nullopt;
  const auto year = digits(text.substr(0, 4)), month = digits(text.substr(5, 2)),
             day = digits(text.substr(8, 2));
  const auto hour = digits(text.substr(11, 2)), minute = digits(text.substr(14, 2));
  std::string_view rest = text.substr(16);
  double second = 0.0, offset_minutes = 0.0;
  if (rest.starts_with(':')) {
    const std::size_t end = std::min(rest.find_first_of("Z+-", 1), rest.size());
    const auto value = digits(rest.substr(1, end - 1));
    if (!value) return std::nullopt;
    second = *value;
    rest.remove_prefix(end);
  }
  if (!rest.empty() && rest != "Z") {
    if (rest.size() != 6 || rest[3] != ':') return std::nullopt;
    const auto h = digits(rest.substr(1, 2)), m = digits(rest.substr(4, 2));
    if (!h || !m) return std::nullopt;
    offset_minutes = (rest[0] == '-' ? -1.0 : 1.0) * (*h * 60.0 + *m);
  }
  if (!year || !month || !day || !hour || !minute || *hour > 24 || *minute > 59 || second > 60.0)
    return std::nullopt;
  const auto days = base::days_since_1970(static_cast<int>(*year), static_cast<int>(*month),
                                          static_cast<int>(*day));
  if (!days) return std::nullopt;
  const double of_day = (*hour * 3600.0 + (*minute - offset_minutes) * 60.0 + second) / 86400.0;
  return Moment{static_cast<double>(*days) + of_day + 2440587.5};
}

// Steps and names as in the paper: ecliptic coordinates, then celestial, then local.
SunPosition sun_position(Moment moment, Place place) {
  const auto& p = (moment.julian_day < julian_day_of_2020 ? psa_2001 : psa_2020).p;
  const double n = moment.julian_day - julian_day_2000;
  const double hour = std::fmod(moment.julian_day + 0.5, 1.0) * 24.0;
  const double omega = p[0] + p[1] * n;
  const double mean_longitude = p[2] + p[3] * n;
  const double anomaly = p[4] + p[5] * n;
  const double ecliptic_longitude = mean_longitude + p[6] * std::sin(anomaly) +
                                    p[7] * std::sin(2.0 * anomaly) + p[8] + p[9] * std::sin(omega);
  const double obliquity = p[10] + p[11] * n + p[12] * std::cos(omega);
  const double right_ascension =
      std::atan2(std::cos(obliquity) * std::sin(ecliptic_longitude), std::cos(ecliptic_longitude));
  const double declination = std::asin(std::sin(obliquity) * std::sin(ecliptic_longitude));
  const double sidereal_hours = p[13] + p[14] * n + hour;
  const double hour_angle =
      (sidereal_hours * 15.0 + place.longitude_deg) * radian - right_ascension;
  const double latitude = place.latitude_deg * radian;
  const double zenith =
      std::acos(std::cos(latitude) * std::cos(hour_angle) * std::cos(declination) +
                std::sin(declination) * std::sin(latitude));
  double azimuth = std::atan2(-std::sin(hour_angle), std::tan(declination) * std::cos(latitude) -
                                                         std::sin(latitude) * std::cos(hour_angle));
  if (azimuth < 0.0) azimuth += 2.0 * pi;
  return {(zenith + parallax * std::sin(zenith)) / radian, azimuth / radian};
}

double refraction_deg(double elevation_deg, double pressure_mbar, double air_C) {
  if (elevation_deg < -0.8333) return 0.0;  // the sun is below the horizon
  return pressure_mbar / 1010.0 * 283.0 / (273.0 + air_C) * 1.02 /
         (60.0 * std::tan((elevation_deg + 10.3 / (elevation_deg + 5.11)) * radian));
}

}  // namespace site
