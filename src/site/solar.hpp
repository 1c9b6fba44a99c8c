// SPDX-License-Identifier: Apache-2.0
// What panels give: from the sky to the tilted plane, the module's temperature, direct current and
// the house's side.
#pragma once

#include <string_view>
#include <vector>

#include "site/sun.hpp"
#include "site/year.hpp"

namespace site {

/// Irradiance, W/m²: on the horizontal, straight from the sun (on a plane that faces it), and from
/// the rest of the sky on the horizontal.
struct Sky {
  double global = 0.0, beam = 0.0, diffuse = 0.0;
};

/// Solar constant with the distance of the day: 1367 W/m² (1 + 0.033 cos 2πn/365). [Duffie2013] 1.4
[[nodiscard]] double extraterrestrial_W_m2(int day_of_year);
/// Air mass by zenith, degrees. [KastenYoung1989]
[[nodiscard]] double air_mass(double zenith_deg);
/// Clear sky on the horizontal by zenith alone. [Haurwitz1945] with −0.059
[[nodiscard]] double clear_sky_W_m2(double zenith_deg);
/// Share of the diffuse in the global by clearness kt (of the extraterrestrial on the horizontal).
/// [Erbs1982] hourly
[[nodiscard]] double diffuse_share(double kt);

/// A global irradiance on the horizontal, parted by `diffuse_share`; all of it diffuse while the
/// sun is down or within about a degree of the horizon.
[[nodiscard]] Sky split_W_m2(double global, double zenith_deg, int day_of_year);

struct Plane {
  double tilt_deg = 35.0, azimuth_deg = 180.0;  ///< azimuth from north, east 90
  double ground = 0.2;                          ///< what the ground reflects
};
enum class SkyModel { isotropic, hay_davies, hdkr, perez };
/// Irradiance on the plane. `extraterrestrial` on a plane that faces the sun.
/// [Duffie2013] 2.15–2.16; [Perez1990] with the coefficients of 1999.
[[nodiscard]] double on_plane_W_m2(const Sky& sky, double zenith_deg, double sun_azimuth_deg,
                                   double extraterrestrial, const Plane& plane, SkyModel model);
/// cos of the angle between the sun and the plane's normal.
[[nodiscard]] double cos_incidence(double zenith_deg, double sun_azimuth_deg, const Plane& plane);

struct Panels {
  double peak_kW = 5.0;  ///< at 1000 W/m², 25 °C
  Plane plane = {};
  double noct_C = 45.0;      ///< module's temperature at 800 W/m², 20 °C, 1 m/s
  double per_K = -0.0038;    ///< of the power
  double losses = 0.12;      ///< soiling, cables, mismatch; common practice, no source
  double inverter_kW = 0.0;  ///< rating; 0: as large as the panels
  double shading = 0.0;      ///< share of the beam that trees and chimneys take
};
/// Cell temperature Ta + (NOCT − 20)/800 · G. [Masters2013]
[[nodiscard]] double module_C(double air_C, double plane_W_m2, double noct_C);
/// Power at the house, kW, with the inverter's losses (0.92, 0.96, 0.95 at a tenth, a half and its
/// rating unless said otherwise).
[[nodiscard]] double power_kW(const Panels& panels, double plane_W_m2, double air_C);

/// Weather in hours. Each value holds at `sample_h` after its hour's start: a half where it is the
/// hour's mean, as files of a typical year have it, or what the file says of itself.
struct Weather {
  Place place;
  double utc_offset_h = 0.0;  ///< of the stamps
  double sample_h = 0.5;      ///< as its own numbers say: global = beam · cos z + diffuse
  double said_h = 0.5;        ///< as the file says; far from it: its clock is not what it says
  long first_day = 0;         ///< days since 1970; the year of the first row
  std::vector<Sky> sky;       ///< 8760 or 8784
  std::vector<double> air_C;
};
/// A weather file in EPW form. Throws InputError with line: no location, fewer than 8760 rows,
/// values that no weather has.
[[nodiscard]] Weather read_epw(std::string_view bytes);

/// Where there is no weather: clear sky, thinned by a clearness that differs from day to day around
/// each month's mean (seeded), so that bright and dull days come; marked as such by whoever shows
/// it. `clearness` twelve monthly means of global over clear sky, 0…1.
[[nodiscard]] Weather sky_of_statistics(const Place& place, double utc_offset_h, long first_day,
                                        const double (&clearness)[12], const double (&air_C)[12],
                                        unsigned seed);

/// Solar power in the year's steps from hourly weather: the sun where it stands in the middle of
/// each step, beam and diffuse straight between the hours' values. The year's days are matched by
/// day of the year.
void put_solar(Year& year, double year_utc_offset_h, const Weather& weather, const Panels& panels,
               SkyModel model = SkyModel::perez);

}  // namespace site
