// SPDX-License-Identifier: Apache-2.0
// Where the sun stands.
#pragma once

#include <optional>
#include <string_view>

namespace site {

/// A moment in universal time, as a Julian day.
struct Moment {
  double julian_day = 0.0;
};
/// Reads "2003-10-17T19:30:30Z" (fractions of a second and an offset like +02:00 allowed; no zone:
/// UTC).
[[nodiscard]] std::optional<Moment> parse_utc(std::string_view iso8601);

struct Place {
  double latitude_deg = 0.0;
  double longitude_deg = 0.0;  ///< east positive
};

struct SunPosition {
  double zenith_deg = 0.0;   ///< topocentric, without refraction
  double azimuth_deg = 0.0;  ///< from north, clockwise
};
/// PSA algorithm: the 2020 coefficients from 2020 on, else those of 2001. Within 0.01° over
/// 1999–2050. [BlancoMuriel2001] [Blanco2020]
[[nodiscard]] SunPosition sun_position(Moment moment, Place place);

/// How much refraction lifts the sun, degrees, at an elevation without refraction. [Reda2008] eq.
/// 42
[[nodiscard]] double refraction_deg(double elevation_deg, double pressure_mbar, double air_C);

/// Julian day of an hour in universal time on a day counted from 1970.
[[nodiscard]] inline double julian_day_of(long day, double utc_h) {
  return 2440587.5 + double(day) + utc_h / 24.0;
}

}  // namespace site
