// SPDX-License-Identifier: Apache-2.0
// Commission: settings in their layers, the top balance, what the bank delivers.
#include <algorithm>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "commission/storage.hpp"
#include "site/place.hpp"
#include "wiring/fault.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"
#include "works/twin.hpp"

namespace works::steps {

namespace units = base::units;
using findings::Severity;

namespace {
/// What wire() found that the settings must respect.
commission::Carrying carrying(const Plan& plan) {
  const auto amps = [&](const char* path, double otherwise_A) {
    const Named* n = find_figure(plan, path);
    return (n != nullptr ? n->figure.value : otherwise_A) * units::A;
  };
  const base::Amps run = amps("wire.ampacity_A", 0.0);  // always there
  commission::Carrying carrying = {amps("wire.pack_fuse_A", wiring::fuse_ratings_A().back()),
                                   amps("wire.main_fuse_A", run.in(units::A)), run};
  for (const wiring::RunResult& r : plan.circuit.runs)
    for (const wiring::Device& d : plan.circuit.circuit.devices)
      if (r.run.from == wiring::Point::pack && d.at == r.run.name &&
          d.kind == wiring::DeviceKind::bms && d.rated_A)
        carrying.bms = *d.rated_A * units::A;
  return carrying;
}

void add(Plan& plan, std::string key, std::string label, double value, std::string unit,
         std::string basis) {
  plan.commission.figures.push_back(
      {std::move(key),
       std::move(label),
       {.value = value, .unit = std::move(unit), .basis = std::move(basis)}});
}

constexpr double supply_A = 10.0;  // of a bench supply
constexpr double arrival = 0.30;   // common practice, no source
constexpr double apart = 0.02;     // of charge between cells as they come; an assumption

/// Series first, then in parallel: from when on somebody must be there.
void top_balance_plan(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  if (l.places() > most_cells) return;
  bank::Setup pack = twin_of(p, plan, arrival, p.match.design.in_C()).setup;
  pack.layout.packs = 1;
  const auto n = static_cast<std::size_t>(pack.layout.places_in_pack());
  pack.cells.resize(n);
  pack.start_charge.resize(n);
  pack.curve_of.resize(n);
  for (std::size_t i = 0; i < n; ++i)
    pack.start_charge[i] += apart * (double(i * 37 % 21) / 20.0 - 0.5);
  const double cell_Ah = pack.rated_capacity.in(units::Ah),
               charge_A = std::min(0.2, p.cell.max_charge_rate()) * cell_Ah * l.parallel;
  const bank::SeriesThenParallel s = bank::series_then_parallel(
      pack, charge_A, supply_A, p.cell.max.in(units::V), p.match.design.in_C());
  add(plan, "series_charge_h", "first the pack in series, at a fifth of capacity an hour",
      s.series_hours, "h",
      fmt::format("the twin, from {:.0f} %, cells {:.0f} % apart, at {:.0f} A until the first cell "
                  "is full; its BMS watching",
                  arrival * 100, apart * 100, charge_A));
  add(plan, "parallel_after_h", "then its cells in parallel on 10 A, until the tail",
      s.parallel.hours, "h", fmt::format("the twin, for {:.1f} Ah apart", s.spread_Ah));
  const double rise = std::max(0.0, s.parallel.hours_to_voltage - 1.0);
  add(plan, "stay_from_h", "from then on somebody stays with it", rise, "h",
      fmt::format("an hour before the supply reaches its voltage, {:.1f} h after it is joined: the "
                  "voltage climbs at once",
                  s.parallel.hours_to_voltage));
  const double balancer_A = p.balancer.current.in(units::A);
  add(plan, "in_pack_balance_h", "the balancer inside the pack would work so long",
      s.spread_Ah / balancer_A, "h",
      fmt::format("{:.1f} Ah over {:g} A, only while a cell stands above {:g} V: often less than "
                  "an hour a day",
                  s.spread_Ah, balancer_A, p.balancer.start.in(units::V)));
}

void sense_tables(const Project& p, Plan& plan) {
  const File* f = series_file(p, "sense.csv");
  if (f == nullptr) return;
  const int packs = p.layout.packs(), series = p.layout.series();
  const auto readings = commission::read_sense(f->bytes, packs, series);
  for (int k = 0; k < packs; ++k) {
    const bool any = std::any_of(readings.begin(), readings.end(),
                                 [&](const commission::SenseReading& r) { return r.pack == k; });
    if (!any) continue;
    plan.sense.push_back(commission::check_sense(k, series, readings));
    for (const findings::Finding& found : plan.sense.back().findings)
      plan.findings.push_back(found);
  }
}

void place_and_storage(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  const cell::Datasheet sheet = datasheet(p);
  const double capacity = cell_capacity(p, plan).value;
  const double cell_kg =
      sheet.mass ? sheet.mass->si()
                 : 2108.0 * sheet.width->si() * sheet.height->si() * sheet.thickness->si();
  site::Standing s;
  s.kind = p.place.kind.code();
  s.packs = l.packs;
  s.pack_kg = cell_kg * l.places_in_pack() + p.place.box.in(units::kg);
  s.pack_kWh = l.series * p.cell.nominal.in(units::V)*capacity * l.parallel / 1000.0;
  s.pack_area_m2 = plan.box ? plan.box->width.si() * plan.box->depth.si()
                            : l.places_in_pack() * sheet.width->si() * sheet.thickness->si();
  s.clearance_m = p.place.clearance.in(units::m);
  s.floor_allows_kN_m2 = p.place.floor_allows_kN_m2();
  s.detector = p.place.detector.code();
  s.backing = p.place.backing.code();
  const site::PlaceRules rules = {.unit_kWh = p.rules.unit.in(units::kWh),
                                  .garage_kWh = p.rules.garage.in(units::kWh),
                                  .indoors_kWh = p.rules.indoors.in(units::kWh),
                                  .clearance_m = p.rules.clearance.in(units::m),
                                  .lift_kg = p.rules.lift.in(units::kg),
                                  .floor_kN_m2 = p.rules.floor_kN_m2(),
                                  .edition = p.rules.edition()};
  for (findings::Finding& f : site::check_place(s, rules)) plan.findings.push_back(std::move(f));
  add(plan, "pack_kg", "a pack weighs", s.pack_kg, "kg",
      fmt::format("{} cells of {:g} kg, {:g} kg for its box", l.places_in_pack(), cell_kg,
                  p.place.box.in(units::kg)));
  add(plan, "floor_kN_m2", "and presses on its own area with", site::floor_load_kN_m2(s), "kN/m²",
      fmt::format("over {:.2f} m²", s.pack_area_m2));
  const double from = p.storage.charge(), to = p.storage.least_charge(),
               leak = p.storage.leak_percent_month() / 100.0,
               drain_A = p.bms.drain.in(units::mA) / 1000.0;
  if (from < to) {
    plan.findings.push_back(
        {.id = findings::Id::stored_too_low,
         .severity = Severity::caution,
         .what = "The bank would be stored below the charge at which it must be charged again.",
         .where = "[storage] charge",
         .measured = fmt::format("{:g}", from),
         .limit = fmt::format("{:g}", to),
         .why = "It is flat in one missed month.",
         .remedy = "Store at about half.",
         .basis = "common practice, no source"});
    return;
  }
  constexpr double month_s = 30.44 * 86400.0;
  const auto months = [&](base::Amps drain) {
    return commission::time_to_charge(from, to, capacity * l.parallel * units::Ah, drain, leak)
               .si() /
           month_s;
  };
  const auto until = [&](double m) {
    const std::string since = p.storage.since();
    const auto day = base::day_of(since);
    return day ? base::day_text(*day + long(std::min(m, 600.0) * 30.44)) : std::string();
  };
  const auto tell = [&](std::string key, std::string label, double m, std::string what) {
    const std::string day = until(m);
    add(plan, std::move(key), std::move(label), m, "months",
        fmt::format("from {:.0f} % to {:.0f} %: {}{}", from * 100, to * 100, what,
                    day.empty() ? "; write [storage] since for the day" : "; until " + day));
  };
  tell("storage_months", "laid up as it is, charge it again within", months(drain_A * units::A),
       fmt::format("{:g} mA a pack and {:g} % a month", drain_A * 1e3, leak * 100));
  if (const double m = months(drain_A * units::A); m < 2.0)
    plan.findings.push_back(
        {.id = findings::Id::flat_in_one_missed_month,
         .severity = Severity::caution,
         .what = "Laid up as it is, the bank is flat before anybody looks again.",
         .where = "[bms] drain_mA",
         .measured = fmt::format("{:.1f} months", m),
         .limit = "2 months",
         .why = "A cell below its limit does not come back.",
         .remedy = "Unplug monitors and radios, open the isolator, or write the day on the wall.",
         .basis = "common practice, no source"});
  tell("storage_apart_months", "the same with its BMS unplugged, and for spares",
       months(base::Amps{}), fmt::format("{:g} % a month", leak * 100));
}
}  // namespace

void commission(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  const cell::Datasheet sheet = datasheet(p);
  const layout::Limits set = limits(p);
  const double current_A = p.bus.power.in(units::W) /
                           (p.inverter.stop_per_cell.in(units::V)*l.series) /
                           (l.packs * l.parallel);
  const base::Volts sag = current_A * units::A * (cell_resistance(p, plan).value * units::mOhm);
  plan.settings = commission::settings_sheet(
      sheet, l, set, cell_capacity(p, plan).value * units::Ah, carrying(plan));
  const project::SensorOn sensor = p.bms.sensor_on();
  const commission::Habits habits = {
      .equalise = p.charge.equalise() == project::OffOn::on,
      .compensation_mV_K = p.charge.compensation_mV_K(),
      .absorption = p.charge.absorption_h() * units::h,
      .balances_always = p.balancer.works() == project::BalancerWorks::always,
      .sensor = sensor == project::SensorOn::cell   ? commission::Habits::Sensor::cell
                : sensor == project::SensorOn::wall ? commission::Habits::Sensor::wall
                                                    : commission::Habits::Sensor::not_said};
  const auto findings = commission::check_settings(sheet, l, set, sag, habits);
  const bool clean = std::none_of(findings.begin(), findings.end(), [](const findings::Finding& f) {
    return f.severity == Severity::stop;
  });
  plan.findings.insert(plan.findings.end(), findings.begin(), findings.end());
  Step& step = plan.commission;
  step = {.name = "commission", .question = "How is it brought up?", .sentence = "", .figures = {}};
  step.figures.push_back({"sag_mV",
                          "a cell's sag at the design current",
                          {.value = sag.in(units::mV),
                           .unit = "mV",
                           .basis = "design current of one cell times its DC resistance"}});
  const double capacity = cell_capacity(p, plan).value;
  const auto balance = [&](std::string key, std::string label, double missing, double amps) {
    step.figures.push_back({std::move(key), std::move(label),
                            reckon("top-balance-time",
                                   {{"cells", l.places_in_pack()},
                                    {"capacity_Ah", capacity},
                                    {"missing_percent", missing},
                                    {"supply_A", amps}},
                                   "hours")});
  };
  balance("top_balance_from_arrival_h", "top balance of one pack in parallel, from 30 % at 10 A",
          70.0, 10.0);
  balance("top_balance_after_series_h", "the same after a series charge to 97 %", 3.0, 10.0);
  if (l.places() <= most_cells) {
    TwinOfProject twin = twin_of(p, plan, 1.0, p.match.design.in_C());
    const bank::Usable u =
        bank::usable(twin.setup, p.bus.power.in(units::W), p.match.design.in_C());
    const std::string why =
        u.weakest_cell < 0
            ? std::string("the twin gave nothing")
            : fmt::format(
                  "the twin, from full at {:.0f} W and {:g} °C: {}; {} was lowest, {:.2f} V: {}",
                  p.bus.power.in(units::W), p.match.design.in_C(),
                  u.ended_by ? words(*u.ended_by) : std::string("it did not end"),
                  twin.names[std::size_t(u.weakest_cell)], u.weakest_V, words(u.why));
    const auto add = [&](std::string key, std::string label, double value, std::string unit) {
      std::string from = key == "usable_kWh" ? why : "the same run of the twin";
      step.figures.push_back({std::move(key),
                              std::move(label),
                              {.value = value, .unit = std::move(unit), .basis = std::move(from)}});
    };
    add("usable_kWh", "delivered from full at the design power", u.Wh / 1e3, "kWh");
    add("usable_Ah", "charge that this takes", u.Ah, "Ah");
    add("usable_hours", "for so long", u.hours, "h");
    add("hottest_C", "hottest cell by then", u.hottest_C, "°C");
    add("path_loss_Wh", "lost in links, joints, BMS and leads", u.path_heat_Wh, "Wh");
  }
  top_balance_plan(p, plan);
  sense_tables(p, plan);
  place_and_storage(p, plan);
  step.sentence = fmt::format(
      "{} settings in layers{}. Charge in series first: a top balance in parallel then takes {} "
      "hours a pack instead of {}.",
      plan.settings.size(),
      clean ? " that act in order" : ", of which some fight: see the findings",
      base::significant(step.figures[2].figure.value, 2),
      base::significant(step.figures[1].figure.value, 3));
}

}  // namespace works::steps
