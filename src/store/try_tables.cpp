// SPDX-License-Identifier: Apache-2.0
#include "store/try_tables.hpp"

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "bench/calibration.hpp"
#include "site/dispatch.hpp"
#include "site/intervals.hpp"
#include "site/solar.hpp"
#include "site/tariff.hpp"

namespace store {
namespace {

using base::InputError;
using project::Project;

const project::File* table(const Project& project, std::string_view name) {
  for (const project::File& f : project.series)
    if (f.name == name) return &f;
  return nullptr;
}

/// The load's year, or the one that stands for it where there is no load.
site::Year try_load(const Project& project) {
  site::Year year;
  const project::File* load = table(project, "load.csv");
  if (load != nullptr) {
    year = site::read_intervals(load->bytes, "load.csv").year;
  } else {
    year.first_day = *base::day_of("2025-01-01");
    year.load_kW.assign(35040, 0.0);
    year.solar_kW.assign(35040, 0.0);
  }
  const project::File* sun = table(project, "solar.csv");
  if (sun == nullptr) return year;
  const site::Year solar = site::read_intervals(sun->bytes, "solar.csv", true).year;
  if (solar.step_h != year.step_h || solar.steps() != year.steps() ||
      (load != nullptr && solar.first_day != year.first_day))
    throw InputError({"solar.csv", 0, 0},
                     fmt::format("{} steps of {:g} h from {}", solar.steps(), solar.step_h,
                                 base::day_text(solar.first_day)),
                     fmt::format("the load's {} of {:g} h{}", year.steps(), year.step_h,
                                 load != nullptr ? " from " + base::day_text(year.first_day) : ""),
                     "export both over the same days in the same steps");
  return year;
}

/// The pure readers do not know their file's name.
template <class Read>
void in_file(const char* name, const Read& read) {
  try {
    read();
  } catch (const InputError& e) {
    if (!e.place().file.empty()) throw;
    throw e.in_file(name);
  }
}

}  // namespace

void try_every_table(const Project& project) {
  const site::Year year = try_load(project);
  if (const auto* f = table(project, "weather.csv")) {
    // Where it was taken may be said later; how it reads does not depend on it.
    const double latitude = project.site.latitude_deg().value_or(50.0),
                 longitude = project.site.longitude_deg().value_or(10.0);
    (void)site::read_weather(f->bytes, "weather.csv", {latitude, longitude}, 0.0);
  }
  if (const auto* f = table(project, "weather.epw"))
    in_file("weather.epw", [&] { (void)site::read_epw(f->bytes); });
  if (const auto* f = table(project, "prices.csv"))
    (void)site::read_prices(f->bytes, "prices.csv", year);
  if (const auto* f = table(project, "tariff.csv"))
    (void)site::prices_of(year, site::read_tariff(f->bytes, "tariff.csv"), 0.0);
  if (const auto* f = table(project, "channels.csv"))
    in_file("channels.csv", [&] { (void)bench::read_channels(f->bytes); });
}

}  // namespace store
