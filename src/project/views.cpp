// SPDX-License-Identifier: Apache-2.0
#include "project/views.hpp"

#include <algorithm>

#include "base/number.hpp"
#include "logs/header.hpp"

namespace project {
namespace {

namespace units = base::units;

/// Cable as [wiring] says it is laid.
wiring::Run usual_run(const Project& p) {
  wiring::Run run;
  run.insulation =
      p.wiring.insulation() == Insulation::pvc ? wiring::Insulation::pvc : wiring::Insulation::xlpe;
  run.method = p.wiring.method() == Method::C ? wiring::Method::c : wiring::Method::f;
  run.ambient_C = p.wiring.ambient.in_C();
  run.circuits = p.wiring.circuits();
  switch (p.wiring.grouping()) {
    case Grouping::bunched:
      run.grouping = wiring::Grouping::bunched;
      break;
    case Grouping::wall:
      run.grouping = wiring::Grouping::wall;
      break;
    case Grouping::tray:
      run.grouping = wiring::Grouping::tray;
      break;
    case Grouping::ladder:
      run.grouping = wiring::Grouping::ladder;
      break;
  }
  run.terminal_C = p.wiring.terminal.in_C();
  return run;
}

}  // namespace

cell::Datasheet datasheet(const Project& p) {
  cell::Datasheet d{.chemistry = std::string(p.cell.chemistry.code()),
                    .rated_capacity = p.cell.rated_capacity(),
                    .dc_resistance = {p.cell.dc_resistance(), p.cell.dc_resistance_time()}};
  if (const auto ac = p.cell.ac_resistance.in(units::mOhm))
    d.ac_resistance = cell::AcResistance{*ac * units::mOhm};
  if (const auto mass = p.cell.mass.in(units::kg)) d.mass = *mass * units::kg;
  d.max = p.cell.max();
  d.min = p.cell.min();
  d.nominal = p.cell.nominal();
  d.width = p.cell.width();
  d.height = p.cell.height();
  d.thickness = p.cell.thickness();
  d.max_charge_rate = p.cell.max_charge_rate();
  d.max_discharge_rate = p.cell.max_discharge_rate();
  d.charge_min = p.cell.charge_min();
  return d;
}

layout::Layout layout_of(const Project& p) {
  return {.packs = p.layout.packs(),
          .series = p.layout.series(),
          .parallel = p.layout.parallel(),
          .take_off = *layout::take_off_named(p.layout.take_off.code()),
          .link = p.layout.link(),
          .joint = p.layout.joint(),
          .pack_extra = p.layout.pack_extra(),
          .lead = p.layout.lead()};
}

layout::Limits limits(const Project& p) {
  layout::Limits l;
  l.bms = {.cell_high = p.bms.cell_high(),
           .cell_high_release = p.bms.cell_high_release(),
           .cell_low = p.bms.cell_low(),
           .cell_low_release = p.bms.cell_low_release(),
           .charge_stop = p.bms.charge_stop(),
           .charge_release = p.bms.charge_release(),
           .charge_hot = p.bms.charge_hot(),
           .discharge_hot = p.bms.discharge_hot(),
           .discharge_cold = p.bms.discharge_cold(),
           .voltage_delay = p.bms.voltage_delay(),
           .charge_max = p.bms.charge_max(),
           .discharge_max = p.bms.discharge_max(),
           .current_delay = p.bms.current_delay()};
  l.charger = {.per_cell = p.charge.per_cell(),
               .float_per_cell = p.charge.float_per_cell(),
               .recharge_per_cell = p.charge.recharge_per_cell(),
               .tail_rate = p.charge.tail_rate()};
  l.inverter = {.alarm_per_cell = p.inverter.alarm_per_cell(),
                .stop_per_cell = p.inverter.stop_per_cell(),
                .restart_per_cell = p.inverter.restart_per_cell(),
                .charge_stop_per_cell = p.inverter.charge_stop_per_cell(),
                .stop_delay = p.inverter.stop_delay()};
  l.balancer = {.moves = p.balancer.kind() == BalancerKind::moves,
                .efficiency = p.balancer.efficiency_percent() / 100.0,
                .start = p.balancer.start(),
                .window = p.balancer.window(),
                .current = p.balancer.current()};
  return l;
}

bench::Tester tester(const Project& p) {
  constexpr double copper_Ohm_mm2_m = 0.0175;  // at about 25 °C; [IEC60228] class 5 conductors
  const auto mm2 = p.tester.lead_area.in(units::mm2), metres = p.tester.lead_length.in(units::m);
  const double leads_mOhm = mm2 && metres ? 2.0 * *metres * copper_Ohm_mm2_m / *mm2 * 1e3 : 0.0;
  return {.gain_percent = p.tester.gain_percent(),
          .offset_A = p.tester.offset.in(units::A),
          .clock_ppm = p.tester.clock_ppm(),
          .temperature_halfwidth_K = p.tester.temperature_halfwidth.in(units::K),
          .cutoff_mV = p.tester.cutoff.in(units::mV),
          .voltage_gain_percent = p.tester.voltage_gain_percent(),
          .repeatability_percent = p.tester.repeatability_percent(),
          .room_halfwidth_K = p.tester.room_halfwidth.in(units::K),
          .wires = p.tester.wires().value_or(0),
          .lead_mOhm = leads_mOhm > 0.0 ? leads_mOhm + p.tester.contact.in(units::mOhm) : 0.0,
          .lead_percent = p.tester.lead_percent(),
          .stated = p.tester.gain_percent.given()};
}

logs::ReadOptions read_options(const Project& p) {
  logs::ReadOptions options = logs::options_named(std::string(p.log_reading.sign.code()),
                                                  std::string(p.log_reading.dates.code()),
                                                  std::string(p.log_reading.decimal.code()));
  std::vector<std::string> columns;
  const std::string said = p.log_reading.columns();
  for (std::size_t from = 0; from < said.size();) {
    const std::size_t end = std::min(said.find(';', from), said.size());
    const std::string_view one = base::trimmed(std::string_view(said).substr(from, end - from));
    if (!one.empty()) columns.emplace_back(one);
    from = end + 1;
  }
  options.columns = logs::named_columns(columns);
  options.leave_out_bad_rows = true;
  return options;
}

bench::ReferenceConditions reference_conditions(const Project& p) {
  return {.temperature_C = p.test.reference.in_C(),
          .rate_per_h = p.test.reference_rate(),
          .cut_off_V = p.cell.min.in(units::V)};
}

money::Purchase purchase(const Offer& o) {
  return {.unit_price = o.unit_price * units::money,
          .quantity = o.quantity,
          .freight = o.freight * units::money,
          .insurance = o.insurance * units::money,
          .duty_share = o.duty_percent / 100.0,
          .vat_share = o.vat_percent / 100.0,
          .fees = o.fees * units::money};
}

std::vector<wiring::Run> runs_of(const Project& p) {
  const wiring::Run usual = usual_run(p);
  if (const File* f = series_file(p, "runs.csv")) return wiring::read_runs(f->bytes, usual);
  wiring::Run lead = usual, main = usual;
  lead.name = "pack lead";
  lead.from = wiring::Point::pack, lead.to = wiring::Point::bus;
  lead.length_m = p.wiring.lead_length.in(units::m);
  lead.area_mm2 = p.wiring.lead_area.in(units::mm2);
  main.name = "main";
  main.length_m = p.wiring.length.in(units::m);
  main.area_mm2 = p.wiring.area.in(units::mm2);
  return {lead, main};
}

wiring::Circuit circuit_of(const Project& p, const wiring::Supply& supply) {
  wiring::Circuit circuit;
  circuit.runs = runs_of(p);
  if (const File* f = series_file(p, "devices.csv")) {
    circuit.devices = wiring::read_devices(f->bytes, circuit.runs);
    circuit.devices_given = true;
    return circuit;
  }
  circuit.devices = wiring::usual_devices(circuit.runs, supply);
  for (wiring::Device& d : circuit.devices)
    if (d.name == "pack fuse") {
      if (const auto chosen = p.wiring.pack_fuse.in(units::A)) d.rated_A = chosen;
      d.breaking_kA = p.wiring.fuse_breaking.in(units::kA);
    }
  return circuit;
}

}  // namespace project
