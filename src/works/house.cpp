// SPDX-License-Identifier: Apache-2.0
#include "works/house.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "money/money.hpp"
#include "site/intervals.hpp"
#include "site/load.hpp"
#include "site/solar.hpp"
#include "site/tariff.hpp"
#include "works/plan.hpp"
#include "works/steps.hpp"

namespace works {
namespace {

using findings::Severity;

constexpr double air_swing_K = 9.0;   // of monthly means about the year's; an assumption
constexpr double clear_swing = 0.18;  // of the clearness from summer to winter; an assumption

std::array<double, 12> monthly(double mean, double swing) {
  std::array<double, 12> m{};
  for (std::size_t i = 0; i < 12; ++i)
    m[i] = mean - swing * std::cos(2.0 * std::numbers::pi * (double(i) + 0.5 - 0.7) / 12.0);
  return m;
}

double utc_offset(const Project& p) {
  if (const auto given = p.site.utc_offset_h()) return *given;
  const auto longitude = p.site.longitude_deg();
  return longitude ? std::round(*longitude / 15.0) : 0.0;
}

void note(HouseStudy& s, findings::Id id, Severity severity, std::string what, std::string measured,
          std::string why, std::string remedy) {
  s.findings.push_back({.id = id,
                        .severity = severity,
                        .what = std::move(what),
                        .where = "[site]",
                        .measured = std::move(measured),
                        .limit = "",
                        .why = std::move(why),
                        .remedy = std::move(remedy),
                        .basis = "docs/models/year.md"});
}

site::Panels panels_of(const Project& p) {
  site::Panels panels;
  panels.peak_kW = p.site.solar.in(base::units::kW).value_or(0.0);
  panels.plane = {.tilt_deg = p.site.tilt_deg(), .azimuth_deg = p.site.azimuth_deg()};
  panels.shading = p.site.shading_percent() / 100.0;
  return panels;
}

/// The cells' days and months: part of the air's swing about [use] temperature_C, three days slow.
void put_cells(const Project& p, const std::vector<double>& air_C, HouseStudy& s) {
  const double mean_C = p.use.temperature.in_C(), share = p.place.follows_air();
  const double air_mean = std::accumulate(air_C.begin(), air_C.end(), 0.0) / double(air_C.size());
  double slow = 0.0;
  s.cells_day_C.assign(air_C.size(), mean_C);
  for (int round = 0; round < 2; ++round)  // the second begins where the year ends
    for (std::size_t d = 0; d < air_C.size(); ++d) {
      slow += (air_C[d] - air_mean - slow) / 3.0;
      s.cells_day_C[d] = mean_C + share * slow;
    }
  std::array<double, 12> sum{}, count{};
  for (std::size_t d = 0; d < 365; ++d) {
    const auto month =
        std::size_t(base::civil_day(*base::day_of("2025-01-01") + long(d)).month - 1);
    sum[month] += s.cells_day_C[d], count[month] += 1.0;
  }
  for (std::size_t m = 0; m < 12; ++m) s.life.cells_C[m] = sum[m] / count[m];
}

/// Load, sun and air; false where the project says too little.
bool build_year(const Project& p, HouseStudy& s) {
  const File* load = project::series_file(p, "load.csv");
  const auto annual = p.site.annual_load.in(base::units::kWh), latitude = p.site.latitude_deg(),
             longitude = p.site.longitude_deg();
  if (load == nullptr && !annual) return false;
  bool measured_sun = false;
  if (load != nullptr) {
    site::Metered m = site::read_intervals(load->bytes, "load.csv");
    s.year = std::move(m.year);
    s.load_from = "metered (load.csv)";
    measured_sun = m.has_solar;
    if (measured_sun) s.sun_from = "metered (load.csv)";
    for (findings::Finding& f : m.findings) s.findings.push_back(std::move(f));
  } else {
    s.year.step_h = 0.25;
    s.year.first_day = *base::day_of("2025-01-01");
    s.year.load_kW.assign(35040, 0.0);
    s.year.solar_kW.assign(35040, 0.0);
  }
  const double offset = utc_offset(p);
  const double solar_kW = p.site.solar.in(base::units::kW).value_or(0.0);
  std::optional<site::Weather> weather;
  if (const File* csv = project::series_file(p, "weather.csv")) {
    if (!latitude || !longitude)
      throw base::InputError({"weather.csv", 1, 0}, "weather of no place",
                             "latitude_deg and longitude_deg in [site]", "say where it was taken");
    weather = site::read_weather(csv->bytes, "weather.csv", {*latitude, *longitude}, offset);
  } else if (const File* f = project::series_file(p, "weather.epw")) {
    weather = site::read_epw(f->bytes);
    if (std::abs(weather->sample_h - weather->said_h) > 0.3)
      note(s, findings::Id::weather_clock, Severity::note,
           "The weather file's clock is not what it says; its own numbers are followed.",
           fmt::format("{:.2f} h apart", weather->sample_h - weather->said_h),
           "An hour's shift moves morning sun to noon.",
           "Nothing; compare with the place's sunrise.");
  } else if (latitude && longitude) {
    const double mean = p.site.clearness();
    const auto clear = monthly(mean, (*latitude < 0.0 ? -1.0 : 1.0) * clear_swing * mean),
               air = monthly(p.site.mean_air.in_C(), (*latitude < 0.0 ? -1.0 : 1.0) * air_swing_K);
    double c[12], a[12];
    for (std::size_t i = 0; i < 12; ++i) c[i] = std::clamp(clear[i], 0.1, 1.0), a[i] = air[i];
    weather = site::sky_of_statistics({*latitude, *longitude}, offset, s.year.first_day, c, a,
                                      house_seed);
  }
  if (!measured_sun) {
    if (const File* f = project::series_file(p, "solar.csv")) {
      site::Metered m = site::read_intervals(f->bytes, "solar.csv", true);
      if (m.year.step_h != s.year.step_h || m.year.steps() != s.year.steps() ||
          (load != nullptr && m.year.first_day != s.year.first_day))
        throw base::InputError(
            {"solar.csv", 0, 0},
            fmt::format("{} steps of {:g} h from {}", m.year.steps(), m.year.step_h,
                        base::day_text(m.year.first_day)),
            fmt::format("the load's {} of {:g} h{}", s.year.steps(), s.year.step_h,
                        load != nullptr ? " from " + base::day_text(s.year.first_day) : ""),
            "export both over the same days in the same steps");
      s.year.solar_kW = std::move(m.year.solar_kW);
      for (findings::Finding& finding : m.findings) s.findings.push_back(std::move(finding));
      s.sun_from = "metered (solar.csv)";
    } else if (solar_kW > 0.0 && weather) {
      site::put_solar(s.year, offset, *weather, panels_of(p));
      const bool csv = project::series_file(p, "weather.csv") != nullptr,
                 file = csv || project::series_file(p, "weather.epw") != nullptr;
      s.sun_from = csv    ? "reckoned from weather.csv"
                   : file ? "reckoned from weather.epw"
                          : "reckoned from a statistic of clouds";
      if (!file)
        note(s, findings::Id::sun_from_statistics, Severity::note,
             "The sun is made of clear sky and a statistic of clouds, not of your place's weather.",
             fmt::format("clearness {:g}", p.site.clearness()),
             "A year's sum may be a tenth off, and dull weeks come as chance has them.",
             "Put a typical year's weather.epw beside the project.");
    } else if (solar_kW > 0.0) {
      return false;  // nobody said where
    } else {
      s.sun_from = "none";
    }
  }
  std::vector<double> air(366, p.site.mean_air.in_C());
  if (weather) {
    for (std::size_t d = 0; d < 365 && d * 24 + 23 < weather->air_C.size(); ++d) {
      air[d] = 0.0;
      for (std::size_t h = 0; h < 24; ++h) air[d] += weather->air_C[d * 24 + h] / 24.0;
    }
    air[365] = air[364];
  }
  if (load == nullptr) {
    const project::AtHome at_home = p.site.at_home();
    site::put_load(s.year,
                   {.annual_kWh = *annual,
                    .peaky = p.site.peaky(),
                    .seed = house_seed,
                    .car_kWh = p.site.car_energy.in(base::units::kWh),
                    .car_kW = 11.0,
                    .heat_kWh = p.site.heat_energy.in(base::units::kWh),
                    .heat_limit_C = 15.0,
                    .flow_C = 38.0,
                    .at_home = at_home == project::AtHome::all_day    ? 0.5
                               : at_home == project::AtHome::evenings ? -0.5
                                                                      : 0.0},
                   air);
    s.load_from = p.site.peaky() > 0.0
                      ? "a standard profile, cut into one household's pulses (an assumption)"
                      : "a standard profile, smooth";
    if (p.site.peaky() < 0.5)
      note(
          s, findings::Id::load_too_smooth, Severity::caution,
          "The load is as smooth as the mean of many homes.", "",
          "A smooth load flatters the bank: some eight points of self-sufficiency at one kilowatt-hour "
          "for each MWh.",
          "Give a metered year as load.csv, or peaky = 1.");
  }
  put_cells(p, air, s);
  return true;
}

void build_prices(const Project& p, HouseStudy& s) {
  const double sell = p.tariff.sell();
  if (const File* f = project::series_file(p, "prices.csv")) {
    s.prices.buy = site::read_prices(f->bytes, "prices.csv", s.year);
    s.prices.sell.assign(s.year.steps(), sell);
    s.price_from = "prices.csv";
  } else if (const File* t = project::series_file(p, "tariff.csv")) {
    const auto bands = site::read_tariff(t->bytes, "tariff.csv");
    s.prices = site::prices_of(s.year, bands, sell);
    s.price_from = fmt::format("tariff.csv, {} prices", bands.size());
  } else {
    std::vector<site::PriceBand> bands = {{.name = "all day", .price = p.tariff.buy().value()}};
    if (const auto night = p.tariff.night_buy())
      bands.push_back({.name = "night",
                       .price = *night,
                       .from_h = p.tariff.night_from_h(),
                       .to_h = p.tariff.night_to_h()});
    if (const auto peak = p.tariff.peak_buy())
      bands.push_back({.name = "peak",
                       .price = *peak,
                       .from_h = p.tariff.peak_from_h(),
                       .to_h = p.tariff.peak_to_h(),
                       .weekdays = 0x1F});
    s.prices = site::prices_of(s.year, bands, sell);
    s.price_from = fmt::format("[tariff], {} price{}", bands.size(), bands.size() == 1 ? "" : "s");
  }
  s.prices.demand_kW_month = p.tariff.demand_kW_month();
  s.prices.standing_year = p.tariff.standing_year();
}

void build_store(const Project& p, const Plan& plan, HouseStudy& s) {
  const layout::Layout l = layout_of(p);
  const double capacity = steps::cell_capacity(p, plan).value;
  s.life.nominal_kWh = l.places() * capacity * p.cell.nominal.in(base::units::V) / 1000.0;
  s.life.low_charge = p.dispatch.low_charge();
  s.life.high_charge = p.dispatch.high_charge();
  s.life.years = p.use.years();
  s.life.load_growth = p.future.load_growth_percent() / 100.0;
  s.life.price_growth = p.future.price_growth_percent() / 100.0;
  s.life.end_share = p.use.end_percent() / 100.0;
  s.life.charge_rate = p.cell.max_charge_rate();
  s.life.discharge_rate = p.cell.max_discharge_rate();
  const double eta = p.dispatch.one_way_percent() / 100.0;
  s.store.usable_kWh = s.life.usable_kWh();
  s.store.discharge_kW = p.bus.power.in(base::units::W) / 1000.0;
  s.store.charge_kW = std::min(s.store.discharge_kW, s.life.charge_rate * s.life.nominal_kWh);
  const auto tenth = p.dispatch.inverter_tenth_percent(), half = p.dispatch.inverter_half_percent(),
             full = p.dispatch.inverter_full_percent();
  if (tenth && half && full) {
    // The cells: P²R/V² of the bank, as a share of the rating squared.
    const double volts = l.series * p.cell.nominal.in(base::units::V),
                 ohms = bank::pack_resistance(
                            l, steps::cell_resistance(p, plan).value * 1e-3 * base::units::Ohm)
                            .in(base::units::Ohm) /
                        l.packs;
    const auto loss = [&](double rated_kW) {
      site::Loss x = site::loss_through(*tenth / 100.0, *half / 100.0, *full / 100.0);
      x.k2 += rated_kW * 1000.0 * ohms / (volts * volts);
      return x;
    };
    s.store.charging = loss(s.store.charge_kW), s.store.discharging = loss(s.store.discharge_kW);
  } else {
    s.store.charging = site::Loss::charging(eta);
    s.store.discharging = site::Loss::discharging(eta);
  }
  s.store.standby_kW = p.dispatch.standby.in(base::units::W) / 1000.0;
  s.store.reserve_kWh = p.dispatch.reserve_percent() / 100.0 * s.life.nominal_kWh;
  s.rules.kind = site::rule_named(p.dispatch.rule.code());
  s.rules.error_sd = p.dispatch.forecast_error_percent() / 100.0;
  s.rules.seed = house_seed;
  s.rules.export_kW = p.tariff.export_limit.in(base::units::kW);
  s.rules.import_kW = s.store.charge_kW;
  // In the cold: nothing below the sheet's limit, a fifth of the capacity an hour up to 10 K above.
  const double least_C = p.cell.charge_min.in_C(), slow_C = least_C + 10.0;
  if (*std::min_element(s.cells_day_C.begin(), s.cells_day_C.end()) < slow_C) {
    const std::size_t days = (s.year.steps() + s.year.steps_a_day() - 1) / s.year.steps_a_day();
    for (std::size_t d = 0; d < days; ++d) {
      const double C =
          s.cells_day_C[std::size_t(base::day_of_year(s.year.first_day + long(d)) - 1)];
      s.cold_days += C < least_C;
      s.rules.day_charge_kW.push_back(C < least_C ? 0.0
                                      : C < slow_C
                                          ? std::min(s.store.charge_kW, 0.2 * s.life.nominal_kWh)
                                          : s.store.charge_kW);
    }
  }
  s.rules = site::remade(s.rules, s.year, s.prices, s.store);
}

std::vector<double> flows_of(const Project& p, const HouseStudy& s) {
  std::vector<double> flows = {-s.capital};
  for (int y = 0; y < s.served; ++y)
    flows.push_back(s.harsh[std::size_t(y)].saving() * (1.0 - p.future.tax_percent() / 100.0) -
                    p.use.upkeep_per_year());
  if (const auto every = p.future.replace_year())
    for (double y = *every; y < double(s.served); y += *every)
      flows[std::size_t(y)] -= p.future.replace_cost();
  flows.back() += s.capital * p.future.end_value_percent() / 100.0;
  return flows;
}

}  // namespace

bool has_grid(const Project& p) { return p.site.grid() != project::YesNo::no; }

bool says_price(const Project& p) {
  return p.tariff.buy() || project::series_file(p, "prices.csv") != nullptr ||
         project::series_file(p, "tariff.csv") != nullptr;
}

void put_years(HouseStudy& s) {
  // Both laws over the whole horizon and a year, for the capacity at its end; money counts until
  // the bank's end.
  site::Life life = s.life;
  life.end_share = 0.0;
  life.years += 1;
  life.law = life::Law::naumann;
  s.harsh = site::live(s.year, s.prices, s.store, s.rules, life);
  life.law = life::Law::schimpe;
  s.mild = site::live(s.year, s.prices, s.store, s.rules, life);
  s.served = 0;
  for (const site::YearOfLife& y : s.harsh)
    s.served += y.year <= s.life.years && y.capacity >= s.life.end_share;
}

void put_best_size(const Project& p, HouseStudy& s, const std::vector<site::SizePoint>& sizes) {
  const double rate = p.use.rate_percent() / 100.0;
  const double worth = 1.0 / money::annuity(rate, double(s.served));
  // A kilowatt-hour's saving fades with the capacity: by the mean of the years served.
  double faded = 0.0;
  for (int y = 0; y < s.served; ++y) faded += s.harsh[std::size_t(y)].capacity / s.served;
  double best = 0.0;
  s.knee_kWh = 0.0;
  for (const site::SizePoint& point : sizes)
    if (const double net = point.saving * worth * faded - s.cells_per_kWh * point.nominal_kWh;
        net > best)
      best = net, s.knee_kWh = point.nominal_kWh;
}

void put_value(const Project& p, HouseStudy& s, double rate) {
  s.flows = flows_of(p, s);
  s.value = money::present_value(rate, s.flows);
  s.payback_years = money::discounted_payback(rate, s.flows);
  s.internal_rate = money::internal_rate(s.flows);
}

std::optional<HouseStudy> house_study(const Project& p, const Plan& plan) {
  const bool grid = has_grid(p);
  if (grid && !says_price(p)) return std::nullopt;
  HouseStudy s;
  if (!build_year(p, s)) return std::nullopt;
  if (grid) {
    build_prices(p, s);
  } else {
    s.prices.buy.assign(s.year.steps(), 0.0), s.prices.sell.assign(s.year.steps(), 0.0);
    s.price_from = "none: no grid";
  }
  build_store(p, plan, s);
  site::Store none = s.store;
  none.usable_kWh = none.charge_kW = none.discharge_kW = none.standby_kW = 0.0;
  site::Rules plain;
  plain.export_kW = s.rules.export_kW;
  s.without = site::dispatch(s.year, &s.prices, none, plain);
  s.with_store = site::dispatch(s.year, &s.prices, s.store, s.rules);
  put_years(s);
  s.capital = p.use.other_capital() - p.future.subsidy();
  for (const OfferResult& o : plan.offers) {
    if (!o.offer.chosen) continue;
    s.capital += o.total.value, s.priced = grid;
    s.cells_per_kWh += o.total.value / s.life.nominal_kWh;
  }
  std::vector<double> sizes;
  const double step = s.life.nominal_kWh > 60.0 ? 4.0 : s.life.nominal_kWh > 20.0 ? 2.0 : 1.0;
  for (double kWh = 0.0; kWh <= 2.0 * s.life.nominal_kWh && sizes.size() < 60; kWh += step)
    sizes.push_back(kWh);
  s.sizes = site::sweep(s.year, s.prices, s.store, s.rules, s.life, sizes);
  if (s.priced && s.served > 0) {
    put_best_size(p, s, s.sizes);
    put_value(p, s, p.use.rate_percent() / 100.0);
    const double dearest = *std::max_element(s.prices.buy.begin(), s.prices.buy.end());
    if (dearest > 0.0) s.naive_payback_years = s.capital / (365.25 * s.life.nominal_kWh * dearest);
  }
  if (!grid) {
    constexpr int weather_years = 20;
    s.off_grid = site::loss_of_load(s.year, s.store, weather_years, house_seed);
    s.off_grid_kWh = site::size_for_loss(s.year, s.store, p.site.lost_percent() / 100.0,
                                         10.0 * s.life.usable_kWh(), weather_years, house_seed) /
                     s.life.window();
  }
  site::Year critical = s.year;
  if (const auto W = p.site.outage_power.in(base::units::W))
    for (double& kW : critical.load_kW) kW = *W / 1000.0;
  const double held = s.store.reserve_kWh > 0.0 ? s.store.reserve_kWh : s.store.usable_kWh;
  s.outage = site::autonomy(critical, s.store, held, false);
  return s;
}

}  // namespace works
