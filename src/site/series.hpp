// SPDX-License-Identifier: Apache-2.0
// A year of weather or prices, as plain tables.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "site/solar.hpp"
#include "site/year.hpp"

namespace site {

/// Weather of a year in hours as a plain table: `time` (of each hour's start, standard time),
/// `global_W_m2`, and where they are known `beam_W_m2`, `diffuse_W_m2`, `air_C` (10 °C else).
/// Without beam and diffuse the global is split by [Erbs1982]. Throws InputError: not 8760 or 8784
/// hours in order, values that no weather has.
[[nodiscard]] Weather read_weather(std::string_view bytes, const std::string& file,
                                   const Place& place, double utc_offset_h);

/// An hourly price series, `time,price` a kWh (or `price_MWh`), matched to the year's steps by day
/// of the year and hour. Shorter than the year: InputError.
[[nodiscard]] std::vector<double> read_prices(std::string_view bytes, const std::string& file,
                                              const Year& year);

}  // namespace site
