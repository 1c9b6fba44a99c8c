// SPDX-License-Identifier: Apache-2.0
#include "site/reckonings.hpp"

#include "base/input_error.hpp"
#include "site/off_grid.hpp"
#include "site/sun.hpp"

namespace site {
namespace {

using base::Answer;
using base::Arguments;
using InputKind = base::InputSpec::Kind;

Answer run_sun_position(const Arguments& in) {
  const auto moment = parse_utc(in.text("utc"));
  if (!moment)
    throw base::InputError(
        {}, "utc=" + in.text("utc"), "a moment as ISO 8601, for example 2025-06-21T12:00:00Z",
        "write date and time of day, in universal time or with an offset like +02:00");
  const SunPosition sun =
      sun_position(*moment, {in.number("latitude_deg"), in.number("longitude_deg")});
  // Without a pressure, that of the standard atmosphere at this height. [ISO2533]
  const double pressure =
      in.has("pressure_mbar")
          ? in.number("pressure_mbar")
          : 1013.25 * std::pow(1.0 - 2.25577e-5 * in.number("elevation_m"), 5.25588);
  const double lifted = refraction_deg(90.0 - sun.zenith_deg, pressure, in.number("air_C"));
  Answer answer{{{"zenith_deg", sun.zenith_deg - lifted}, {"azimuth_deg", sun.azimuth_deg}}};
  if (moment->julian_day < 2451179.5 || moment->julian_day > 2469807.5)
    answer.cautions.emplace_back("Outside 1999 to 2050, for which the coefficients were fitted.");
  return answer;
}

base::InputSpec share(std::string_view key, std::string_view text, std::string_view fallback) {
  return base::number_input(key, "", "", text, 0.01, 1, fallback);
}

Answer run_off_grid(const Arguments& in) {
  const OffGridSize s = off_grid_size(
      in.number("daily_kWh"), in.number("inverter"), in.number("days"), in.number("depth"),
      in.number("end"), in.number("factor"), in.number("margin"), in.number("voltage_V"));
  return {
      {{"needed_kWh", s.needed_kWh}, {"nominal_kWh", s.nominal_kWh}, {"nominal_Ah", s.nominal_Ah}}};
}

}  // namespace

std::vector<base::Reckoning> reckonings() {
  return {
      {.name = "off-grid-size",
       .title = "A bank for days without sun",
       .inputs = {base::number_input("daily_kWh", "kWh", "kWh", "used on a day", 0.01, 10000),
                  share("inverter", "the inverter's efficiency", "0.9"),
                  base::number_input("days", "", "d", "days to be carried without sun", 0.1, 60),
                  share("depth", "of the capacity that may be used", "0.9"),
                  share("end", "of the capacity that is left at the end of life", "0.8"),
                  share("factor", "of the capacity at the cold and the rate", "1"),
                  base::number_input("margin", "", "", "design margin", 1, 3, "1.1"),
                  base::number_input("voltage_V", "V", "V", "nominal voltage", 1, 1500, "51.2")},
       .outputs = {{"needed_kWh", "kWh", "out of the cells over those days"},
                   {"nominal_kWh", "kWh", "bank, new"},
                   {"nominal_Ah", "Ah", "the same at that voltage"}},
       .formula = "needed = daily/inverter · days;  nominal = needed · margin / (depth · end · "
                  "factor)",
       .source = "[Masters2013] stand-alone systems (from memory)",
       .validity =
           "a chain of shares; how often it fails is not said: packhouse forecast with grid "
           "= \"no\" plays years",
       .cautions = {"Days of autonomy are a choice; a loss of load is what comes of it."},
       .run = run_off_grid,
       .example = "daily=4.8kWh days=3"},
      {.name = "sun-position",
       .title = "Where the sun stands",
       .inputs = {{.key = "utc",
                   .suffix = "",
                   .unit = "",
                   .text = "moment, ISO 8601",
                   .kind = InputKind::text},
                  {.key = "latitude_deg",
                   .suffix = "deg",
                   .unit = "deg",
                   .text = "latitude, north positive",
                   .min = -90,
                   .max = 90},
                  {.key = "longitude_deg",
                   .suffix = "deg",
                   .unit = "deg",
                   .text = "longitude, east positive",
                   .min = -180,
                   .max = 180},
                  {.key = "elevation_m",
                   .suffix = "m",
                   .unit = "m",
                   .text = "height above the sea",
                   .min = -500,
                   .max = 9000,
                   .fallback = "0"},
                  {.key = "pressure_mbar",
                   .suffix = "mbar",
                   .unit = "mbar",
                   .text = "air pressure (default: from the height)",
                   .min = 0,
                   .max = 1100,
                   .optional = true},
                  {.key = "air_C",
                   .suffix = "C",
                   .unit = "C",
                   .text = "air temperature",
                   .min = -60,
                   .max = 60,
                   .fallback = "10"}},
       .outputs = {{"zenith_deg", "°", "from straight up, with refraction"},
                   {"azimuth_deg", "°", "from north, clockwise"}},
       .formula = "PSA algorithm, parallax and refraction",
       .source = "[BlancoMuriel2001], [Blanco2020]; refraction [Reda2008] eq. 42",
       .validity = "1999 to 2050 within 0.01°",
       .cautions = {},
       .run = run_sun_position,
       .example = "utc=2025-06-21T12:00:00Z latitude=52 longitude=10"},
  };
}

}  // namespace site
