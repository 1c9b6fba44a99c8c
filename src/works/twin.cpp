// SPDX-License-Identifier: Apache-2.0
#include "works/twin.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "base/side_by_side.hpp"
#include "cell/chemistry.hpp"

namespace works {
namespace {

namespace units = base::units;

constexpr double heat_J_kg_K = 1050.0;  // large prismatic cells; [Lin2021] gives 1106 for a pouch
constexpr double through_W_m_K = 0.6;   // [Lin2021] gives 0.52 for a pouch
constexpr double supply_A = 10.0;       // of a bench supply for the top balance
constexpr double room_W_m2_K = 6.0;     // free convection in a closed box, 3 to 6; from memory

/// From the cell's size: heat passes to the neighbours through the large faces, to the room from
/// the narrow sides and the top.
bank::Thermal thermal_of(const cell::Datasheet& sheet) {
  const double w = sheet.width->si(), h = sheet.height->si(), t = sheet.thickness->si();
  const double kg = sheet.mass ? sheet.mass->si() : 2108.0 * w * h * t;
  return {.heat_capacity_J_K = kg * heat_J_kg_K,
          .along_row_W_K = through_W_m_K * w * h / t,
          .to_room_W_K = room_W_m2_K * (2.0 * t * h + 2.0 * w * t)};
}

/// A fitted cell at 25 °C, with its own curve: beyond what the log visited, the chemistry's, moved
/// to meet it.
cell::Model model_of(const bench::FittedCell& fitted, base::AmpHours capacity) {
  const auto at =
      cell::resistance_factors(base::Temperature::from_C(fitted.temperature_C.value_or(25.0)));
  cell::Model m;
  m.capacity = capacity;
  m.r0 = fitted.r0_mOhm.value / at.ohmic * units::mOhm;
  m.r1 = std::max(0.0, fitted.r1_mOhm.value / at.fast) * units::mOhm;
  m.r2 = std::max(0.0, fitted.r2_mOhm.value / at.slow) * units::mOhm;
  m.tau1 = fitted.tau1_s.value * units::s;
  m.tau2 = fitted.tau2_s.value * units::s;
  m.hysteresis = std::max(0.0, fitted.hysteresis_mV.value) * units::mV;
  return m;
}
bank::OwnCurve curve_of(const bench::OpenCircuitCurve& fitted) {
  bank::OwnCurve curve;
  const double first = fitted.state_of_charge.front(), last = fitted.state_of_charge.back();
  const auto published = [](double s) { return cell::open_circuit_voltage(s).in(units::V); };
  const auto add = [&](double s, double V) { curve.charge.push_back(s), curve.volts.push_back(V); };
  constexpr int steps = 200;
  for (int i = 0; i <= steps; ++i) {
    const double s = double(i) / steps;
    const double met = std::clamp(s, first, last);
    add(s, fitted.mean_V(met) + published(s) - published(met));
  }
  return curve;
}

}  // namespace

TwinOfProject twin_of(const Project& project, const Plan& plan, double start_charge,
                      double start_C) {
  TwinOfProject twin;
  const layout::Layout shape = layout_of(project);
  const cell::Datasheet sheet = datasheet(project);
  twin.setup.layout = shape;
  twin.setup.limits = limits(project);
  twin.setup.rated_capacity = sheet.rated_capacity;
  twin.setup.start = base::Temperature::from_C(start_C);
  twin.setup.thermal = thermal_of(sheet);
  twin.setup.rows = plan.box ? plan.box->rows : 1;
  const auto find = [&](const std::string& place) -> const CellResult* {
    for (const CellResult& c : plan.cells)
      if (c.place == place) return &c;
    return nullptr;
  };
  std::size_t rated = 0, fitted = 0;
  for (int pack = 0; pack < shape.packs; ++pack)
    for (int group = 0; group < shape.series; ++group)
      for (int member = 0; member < shape.parallel; ++member) {
        const std::string place = layout::place_name(pack, group, member, shape.parallel);
        const CellResult* cell = find(place);
        const bool known = cell != nullptr && cell->capacity_Ah && cell->capacity_Ah->value > 0.0;
        rated += !known;
        const base::AmpHours capacity =
            known ? cell->capacity_Ah->value * units::Ah : sheet.rated_capacity;
        const base::Ohms resistance = known && cell->resistance_mOhm
                                          ? cell->resistance_mOhm->value * units::mOhm
                                          : sheet.dc_resistance.value;
        const bool own = known && cell->model.has_value();
        cell::Model model =
            own ? model_of(*cell->model, capacity) : cell::Model::scaled(capacity, resistance);
        twin.setup.curve_of.push_back(own ? int(twin.setup.curves.size()) : -1);
        if (own) twin.setup.curves.push_back(curve_of(cell->model->curve));
        fitted += own;
        if (known && cell->leak_mA) model.leak = *cell->leak_mA * 1e-3 * units::A;
        twin.setup.cells.push_back(model);
        twin.setup.start_charge.push_back(start_charge);
        twin.names.push_back(known ? cell->label : place);
      }
  if (rated > 0)
    twin.findings.push_back(
        {.id = findings::Id::cells_as_rated,
         .severity = findings::Severity::note,
         .what = fmt::format("{} of {} cells are taken as the sheet rates them.", rated,
                             twin.setup.cells.size()),
         .where = "simulate",
         .why = "Nothing was measured for their places; all of them behave alike here.",
         .remedy = "Test the cells, so that each stands with its own capacity and resistance."});
  if (fitted > 0)
    twin.findings.push_back(
        {.id = findings::Id::cells_as_fitted,
         .severity = findings::Severity::note,
         .what = fmt::format("{} of {} cells stand by the model fitted to their own log.", fitted,
                             twin.setup.cells.size()),
         .where = "simulate",
         .why = "Their logs show the whole circuit: curve, R0, both lags, hysteresis.",
         .remedy = "See a model and its uncertainty: packhouse bench LOG --model."});
  return twin;
}

bank::RehearsalInput rehearsal_input(const Project& project, const Plan& plan) {
  bank::RehearsalInput in;
  in.room_C = project.match.design.in_C();
  in.setup = twin_of(project, plan, 0.5, in.room_C).setup;
  in.power_W = project.bus.power.in(units::W);
  const auto figure = [&](std::string_view path) {
    const Named* n = find_figure(plan, path);
    return n != nullptr ? n->figure.value : 0.0;
  };
  in.fuse_A = figure("wire.pack_fuse_A");
  const double packs = in.setup.layout.packs;
  in.short_high_A = figure("wire.fault_current_pack_kA") * 1e3 * packs;
  in.short_low_A = figure("wire.fault_current_pack_low_kA") * 1e3 * packs;
  return in;
}

std::optional<TwinStudy> study(const Project& project, const Plan& plan) {
  const bank::RehearsalInput in = rehearsal_input(project, plan);
  if (static_cast<int>(in.setup.cells.size()) > most_cells) return std::nullopt;
  TwinStudy s;
  bank::Setup full = in.setup;
  std::fill(full.start_charge.begin(), full.start_charge.end(), 1.0);
  bank::Twin twin(full);
  bool charging = false;
  for (int minute = 0; minute < 100 * 60; ++minute) {
    twin.step({bank::Demand::Kind::power, charging ? -in.power_W : in.power_W}, in.room_C);
    const bool turned = !charging && twin.bus_A() <= 0.0;
    TwinStudy::CyclePoint p;
    p.hours = twin.time_s() / 3600.0;
    p.bus_V = twin.bus_V();
    p.lowest_V = 1e300;
    for (int c = 0; c < twin.cells(); ++c) {
      p.lowest_V = std::min(p.lowest_V, twin.cell_V(c));
      p.highest_V = std::max(p.highest_V, twin.cell_V(c));
      p.hottest_C = std::max(p.hottest_C, twin.temperature_C(c));
    }
    for (int k = 0; k < twin.packs(); ++k) p.pack_A.push_back(twin.pack_A(k));
    s.cycle.push_back(std::move(p));
    if (charging && (twin.charge_full() || twin.bus_A() == 0.0)) break;
    charging = charging || turned;
  }
  bank::Setup apart = in.setup;
  for (std::size_t i = 0; i < apart.start_charge.size(); ++i)
    apart.start_charge[i] = 0.95 + 0.001 * (double(i * 37 % 21) - 10.0);
  const double charge_A =
      0.1 * apart.rated_capacity.in(units::Ah)*apart.layout.parallel * apart.layout.packs;
  s.balancing = bank::balance_in_pack(apart, charge_A, in.room_C,
                                      0.005 * apart.rated_capacity.in(units::Ah), 300.0);
  bank::Setup pack = apart;
  pack.layout.packs = 1;
  pack.cells.resize(std::size_t(pack.layout.places_in_pack()));
  pack.start_charge.resize(pack.cells.size());
  pack.curve_of.resize(pack.cells.size());
  for (std::size_t i = 0; i < pack.start_charge.size(); ++i) pack.start_charge[i] -= 0.65;
  const double full_V = project.cell.max.in(units::V);
  s.parallel = bank::parallel_top_balance(pack, supply_A, full_V, in.room_C);
  s.series_first =
      bank::series_then_parallel(pack, 0.2 * pack.rated_capacity.in(units::Ah)*pack.layout.parallel,
                                 supply_A, full_V, in.room_C);
  const auto& kinds = bank::rehearsal_kinds();
  s.rehearsals.resize(kinds.size());
  base::side_by_side(kinds.size(),
                     [&](std::size_t i) { s.rehearsals[i] = bank::rehearse(kinds[i].name, in); });
  return s;
}

}  // namespace works
