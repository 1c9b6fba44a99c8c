// SPDX-License-Identifier: Apache-2.0
// Wire: what carries the current, and what stops it.
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "wiring/busbar.hpp"
#include "wiring/circuit.hpp"
#include "wiring/fault.hpp"
#include "wiring/sharing.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"

namespace works::steps {
namespace {

namespace units = base::units;
using base::Figure;
using base::Json;
using findings::Severity;

using wiring::continuous_factor;
constexpr double just_charged_V = 3.60;  // a cell just off the charger
constexpr double nearly_empty_V = 3.00;

/// What a run drops and may carry, as figures that can say why.
struct RunFigures {
  Figure ampacity, drop_percent, drop_V, loss_W;
};

RunFigures figures_of(const wiring::RunResult& r, double bus_V) {
  const wiring::Run& run = r.run;
  const bool pvc = run.insulation == wiring::Insulation::pvc;
  const auto tabled = wiring::ampacity_sections_mm2(wiring::Method::c);
  double section = tabled.front();  // a gauge lies between two, and takes the smaller's
  for (const double s : tabled)
    if (s <= r.area_mm2 * (1.0 + 1e-9)) section = s;
  constexpr std::array<const char*, 4> groupings = {"bunched", "wall", "tray", "ladder"};
  const Json amp = {
      {"insulation", pvc ? "pvc" : "xlpe"},
      // The free-air table starts at 25 mm²; below it the table for a surface is the safe one.
      {"method", section < 25.0 || run.method == wiring::Method::c ? "C" : "F"},
      {"area_mm2", section},
      {"ambient_C", run.ambient_C},
      {"circuits", run.circuits},
      {"grouping", groupings[std::size_t(run.grouping)]}};
  Json drop = {{"class", std::to_string(run.conductor_class)},
               {"length_m", run.length_m},
               {"current_A", r.current_A.value_or(0.0)},
               {"temperature_C", pvc ? 70.0 : 90.0},
               {"system_V", bus_V}};
  if (run.awg.empty())
    drop["area_mm2"] = r.area_mm2;
  else
    drop["awg"] = run.awg;
  return {reckon("ampacity", amp, "current_A"), reckon("voltage-drop", drop, "drop_percent"),
          reckon("voltage-drop", drop, "drop_V"), reckon("voltage-drop", drop, "loss_W")};
}

}  // namespace

namespace {

struct Fault {
  Figure high, low;          ///< of one pack, dead short at the bus
  base::Ohms inside, whole;  ///< the loops behind the two
};

/// The most: a dead short right behind the fuse sees cells, links and joints, and nothing of leads
/// or BMS. The least: a short at the far end of the loop, everything in it, cells old and cold.
Fault fault_of(const Project& p, const layout::Layout& l) {
  const bank::ResistanceEnds ends = bank::resistance_ends(datasheet(p));
  const auto at = [&](double cell_V, base::Ohms loop, std::string basis) {
    Figure f = reckon("fault-current",
                      {{"open_circuit_V", cell_V * l.series},
                       {"resistance_mOhm", loop.in(units::mOhm)},
                       {"packs", 1}},
                      "current_A");
    f.value /= 1000.0;
    f.unit = "kA";
    f.basis = std::move(basis);
    return f;
  };
  const base::Ohms whole = bank::pack_resistance(l, ends.high);
  layout::Layout clean = l;  // joints as good as measured ones between clean copper faces get
  clean.joint = std::min(l.joint, 0.01 * units::mOhm);
  const base::Ohms inside = bank::pack_resistance(clean, ends.low) - l.pack_extra - l.lead * 2.0;
  return {
      at(just_charged_V, inside,
         fmt::format(
             "just charged ({:.2f} V a cell), new and warm: {:.2f} mΩ of cells ({:.3f} mΩ each, 1 kHz), links and joints; no lead, no BMS",
             just_charged_V, inside.in(units::mOhm), ends.low.in(units::mOhm))),
      at(nearly_empty_V, whole,
         fmt::format(
             "nearly empty ({:.2f} V a cell), 0 °C, end of life: {:.1f} mΩ of cells ({:.2f} mΩ each, DC), links, joints, BMS, fuse and leads",
             nearly_empty_V, whole.in(units::mOhm), ends.high.in(units::mOhm))),
      inside, whole};
}

/// Where no devices.csv says what is printed on the parts, [wiring] may say it of the pack's fuse.
void check_pack_fuse(const Project& p, const layout::Layout& l, double needed_kA, Plan& plan) {
  const auto breaking = p.wiring.fuse_breaking.in(units::kA);
  const std::string need = fmt::format("{:.1f} kA direct current at {:.1f} V", needed_kA,
                                       l.series * p.cell.max.in(units::V));
  if (!breaking)
    plan.findings.push_back(
        {.id = findings::Id::fuse_breaking_capacity_unknown,
         .severity = Severity::caution,
         .what = "Nobody said what the pack's fuse can break.",
         .where = "[wiring] fuse_breaking_kA",
         .limit = need,
         .why = "A fuse that cannot break the fault current bursts and the arc goes on.",
         .remedy = "Read the direct-current rating printed on the part: amperes it breaks, and at "
                   "what voltage.",
         .basis = "[IEC60269-1] breaking capacity"});
  else if (*breaking < needed_kA)
    plan.findings.push_back(
        {.id = findings::Id::fuse_cannot_break,
         .severity = Severity::stop,
         .what = "The pack's fuse cannot break what it may meet.",
         .where = "[wiring] fuse_breaking_kA",
         .measured = fmt::format("{:g} kA", *breaking),
         .limit = need,
         .why = "A fuse that cannot break the fault current bursts and the arc goes on.",
         .remedy = "Take a fuse with a higher direct-current breaking capacity.",
         .basis = "[IEC60269-1] breaking capacity"});
}

}  // namespace

namespace {
/// Where runs.csv and devices.csv say one thing and the settings another.
void check_against_settings(const Project& p, const layout::Layout& l,
                            const wiring::RunResult* lead, Plan& plan) {
  std::string unused;
  const auto is_unused = [&](bool file, const project::Said& setting) {
    if (file && setting.given())
      unused += (unused.empty() ? "" : ", ") + std::string(setting.row().label);
  };
  const bool runs = series_file(p, "runs.csv") != nullptr,
             devices = plan.circuit.circuit.devices_given;
  const auto& w = p.wiring;
  for (const project::Said* s : std::initializer_list<const project::Said*>{
           &w.length, &w.lead_length, &w.lead_area, &w.area})
    is_unused(runs, *s);
  is_unused(devices, w.pack_fuse), is_unused(devices, w.fuse_breaking);
  if (!unused.empty())
    plan.findings.push_back({.id = findings::Id::settings_not_used,
                             .severity = Severity::note,
                             .what = "Settings of [wiring] are not used: the tables say it.",
                             .where = "[wiring]",
                             .measured = unused,
                             .limit = "",
                             .why = "Two places that say one thing drift apart.",
                             .remedy = "Take them out of project.toml.",
                             .basis = "runs.csv, devices.csv"});
  if (!runs || lead == nullptr) return;
  const auto table =
      wiring::table_resistance(wiring::Material::copper, lead->run.conductor_class, lead->area_mm2);
  const base::OhmsPerMetre r =
      table ? *table
            : wiring::solid_resistance(wiring::Material::copper, lead->area_mm2 * units::mm2);
  const double pole_mOhm = (r * (lead->run.length_m * units::m)).in(units::mOhm) + 0.1,  // two lugs
      said = l.lead.in(units::mOhm);
  if (said < 0.5 * pole_mOhm || said > 2.0 * pole_mOhm)
    plan.findings.push_back(
        {.id = findings::Id::lead_resistance_differs,
         .severity = Severity::caution,
         .what = "The packs' leads in runs.csv are not those of the settings.",
         .where = "[layout] lead_mOhm",
         .measured = fmt::format("{} mΩ a pole", base::significant(said, 2)),
         .limit = fmt::format("{} mΩ from its section and length, with two lugs",
                              base::significant(pole_mOhm, 2)),
         .why = "Sharing, fault current and the twin are reckoned with the setting.",
         .remedy = "Write the value that the leads have.",
         .basis = "[IEC60228]; a lug of 50 µΩ is common practice, no source"});
}

/// Bars between groups, where their size is said: what they carry at 50 °C, since they lie on
/// cells, and whether [layout] link_mOhm is what such a bar has.
void check_bars(const Project& p, const layout::Layout& l, double pack_A, Plan& plan) {
  const auto width = p.joint.bar_width.in(units::mm),
             thickness = p.joint.bar_thickness.in(units::mm);
  if (!width || !thickness) return;
  const double air_C = std::clamp(p.wiring.ambient.in_C(), 20.0, 50.0);
  const auto carries = wiring::bar_ampacity(*width, *thickness, base::Temperature::from_C(50.0),
                                            base::Temperature::from_C(air_C));
  if (!carries) {
    plan.findings.push_back(
        {.id = findings::Id::bar_not_in_table,
         .severity = Severity::note,
         .what = fmt::format("No table says what a bar of {:g} × {:g} mm may carry.", *width,
                             *thickness),
         .where = "[joint]",
         .measured =
             fmt::format("{:.1f} A/mm² at the design current", pack_A / (*width * *thickness)),
         .limit = "2 A/mm² in still air, as a rule of thumb",
         .why = "A bar that cannot be checked may heat the cells it lies on.",
         .remedy = "Measure its warmth at full load.",
         .basis = "common practice, no source"});
    return;
  }
  plan.wire.figures.push_back(
      {"bar_A", "bars between groups may carry, at 50 °C since they lie on cells",
       reckon(
           "busbar",
           {{"width_mm", *width}, {"thickness_mm", *thickness}, {"bar_C", 50.0}, {"air_C", air_C}},
           "current_A")});
  if (carries->si() < continuous_factor * pack_A)
    plan.findings.push_back(
        {.id = findings::Id::bar_too_small,
         .severity = carries->si() < pack_A ? Severity::stop : Severity::caution,
         .what = "The bars between groups carry the pack's current without a quarter in hand.",
         .where = "[joint] bar_width_mm",
         .measured = fmt::format("{:.0f} A at 50 °C in air of {:g} °C", carries->si(), air_C),
         .limit = fmt::format("{:.0f} A", continuous_factor * pack_A),
         .why = "They warm the cells they lie on, and loosen.",
         .remedy = "Wider or thicker bars, or two on each other.",
         .basis = "[DIN43671] from memory; 50 °C and the quarter are common practice, no source"});
  // One bar spans one group's thickness; its holes and joints come on top.
  const double span_m = l.parallel * p.cell.thickness.in(units::mm) / 1000.0;
  const double bar_mOhm =
      (wiring::bar_resistance(*width, *thickness, base::Temperature::from_C(20.0)) *
       (span_m * units::m))
          .in(units::mOhm);
  if (const double said = l.link.in(units::mOhm); said < 0.7 * bar_mOhm || said > 3.0 * bar_mOhm)
    plan.findings.push_back(
        {.id = findings::Id::link_resistance_differs,
         .severity = Severity::note,
         .what = "The bars' resistance is not what their size gives.",
         .where = "[layout] link_mOhm",
         .measured = fmt::format("{} mΩ", base::significant(said, 2)),
         .limit = fmt::format("{} mΩ of copper over {:.0f} mm", base::significant(bar_mOhm, 2),
                              span_m * 1000.0),
         .why = "Drop, heat and fault current are reckoned with it.",
         .remedy = "Correct one of the two; brass or steel has four to ten times as much.",
         .basis = "ρ/(w·t), [IEC60028]"});
}
}  // namespace

void wire(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  Step& step = plan.wire;
  step = {.name = "wire",
          .question = "What carries the current, and what stops it?",
          .sentence = "",
          .figures = {}};
  const auto add = [&](std::string key, std::string label, Figure f) {
    step.figures.push_back({std::move(key), std::move(label), std::move(f)});
  };

  // Near empty the same power takes the most current: that is what cables and fuses see.
  const double stop_V = p.inverter.stop_per_cell.in(units::V)*l.series,
               current_A = p.bus.power.in(units::W) / stop_V;
  add("design_current_A", "design current, at the inverter's stop",
      {.value = current_A,
       .unit = "A",
       .basis = fmt::format("power over {:.1f} V, the bus when the inverter stops", stop_V)});
  const double nominal_V = p.cell.nominal.in(units::V)*l.series;
  const Fault fault = fault_of(p, l);
  const int met = wiring::packs_met_by_pack_fuse(l.packs);
  add("fault_current_pack_kA", "fault current at one pack's terminals, at most", fault.high);
  add("fault_current_pack_low_kA", "fault current at the end of its loop, at least", fault.low);
  const auto packs_feeding = [&](int n, std::string basis) {
    Json inputs = fault.high.inputs;
    inputs["packs"] = n;
    Figure f = reckon("fault-current", inputs, "current_A");
    f.value /= 1000.0;
    f.unit = "kA";
    f.basis = std::move(basis);
    return f;
  };
  const Figure pack_break = packs_feeding(
      met, l.packs > 1 ? fmt::format("a fault on its own lead is fed by the other {}",
                                     l.packs == 2 ? std::string("pack")
                                                  : fmt::format("{} packs", l.packs - 1))
                       : "a fault on the bus is fed by this pack");
  add("pack_fuse_breaking_kA", "each pack's fuse must break", pack_break);
  add("main_breaking_kA", "the main device must break",
      packs_feeding(l.packs, "a fault on the bus is fed by all packs"));
  add("fuse_voltage_V", "fuses rated for at least",
      {.value = l.series * p.cell.max.in(units::V),
       .unit = "V",
       .basis = "all cells at their upper limit, direct current"});

  double worst_share = 1.0;
  if (l.packs > 1) {
    const Figure resistance = cell_resistance(p, plan);
    base::Ohms own = bank::pack_resistance(l, resistance.value * units::mOhm) - l.lead * 2.0;
    const Json inputs = {{"packs", l.packs},
                         {"pack_mOhm", own.in(units::mOhm)},
                         {"link_mOhm", l.lead.in(units::mOhm)},
                         {"take_off", layout::name(l.take_off)},
                         {"current_A", current_A}};
    Figure share = reckon("pack-sharing", inputs, "largest_over_mean");
    worst_share = share.value;
    std::vector<base::Ohms> packs(static_cast<std::size_t>(l.packs), own);
    for (const base::Amps i :
         wiring::share_current(packs, l.lead, l.take_off, current_A * units::A))
      plan.pack_currents_A.push_back(i.in(units::A));
    share.unit = "times";
    add("largest_share", "hardest worked pack, of the mean", share);
    if (worst_share > 1.10)
      plan.findings.push_back(
          {.id = findings::Id::uneven_sharing,
           .severity = Severity::caution,
           .what = "One pack carries more than a tenth above its share.",
           .where = "[layout] take_off",
           .measured = fmt::format("{:.0f} % above the mean", (worst_share - 1.0) * 100.0),
           .limit = "10 %",
           .why = "It ages first, and its BMS trips first.",
           .remedy =
               "Tap the bus at opposite ends, use equal leads to a common bar, or thicker links.",
           .basis = "Kirchhoff's laws; the limit is common practice, no source"});
  }
  // A pack's fuse carries its worst share, and more when one pack of several has dropped out.
  const double dropout = l.packs > 1 ? double(l.packs) / double(l.packs - 1) : 1.0;
  const double pack_A = current_A / l.packs * worst_share * (l.packs > 2 ? dropout : 1.0);
  const wiring::Supply supply = {
      .packs = l.packs,
      .max = l.series * p.cell.max(),
      .just_charged = l.series * just_charged_V * units::V,
      .nearly_empty = l.series * nearly_empty_V * units::V,
      .nominal = nominal_V * units::V,
      .pack_low = fault.inside,
      .pack_high = fault.whole - l.lead * 2.0,
      .design = current_A * units::A,
      .pack_worst = pack_A * units::A,
      .surge = p.bus.surge.in(units::W)
                   ? std::optional(*p.bus.surge.in(units::W) / stop_V * units::A)
                   : std::nullopt,
      .charge_max = p.cell.max_charge_rate() * l.parallel * l.packs * cell_capacity(p, plan).value *
                    units::A};
  plan.circuit = wiring::check(circuit_of(p, supply), supply);
  const wiring::RunResult* main = nullptr;
  const wiring::RunResult* lead = nullptr;
  for (const wiring::RunResult& r : plan.circuit.runs) {
    if (main == nullptr && r.run.to == wiring::Point::inverter) main = &r;
    if (lead == nullptr && r.run.from == wiring::Point::pack) lead = &r;
  }
  const auto rating = [&](const wiring::RunResult* r, base::Amps needed) {
    if (r != nullptr && r->fuse_A > 0.0) return r->fuse_A;
    return wiring::smallest_fuse_for(needed * continuous_factor).in(units::A);
  };
  const bool chosen = p.wiring.pack_fuse.in(units::A) ||
                      (plan.circuit.circuit.devices_given && lead != nullptr && lead->fuse_A > 0.0);
  const double fuse_A = rating(lead, pack_A * units::A),
               main_A = rating(main, current_A * units::A);
  if (main != nullptr) {
    const RunFigures run = figures_of(*main, nominal_V);
    const bool given = !main->proposed;
    add("area_mm2",
        given ? "section of the main run, as given"
              : "section of the main run, the smallest that does",
        {.value = main->area_mm2,
         .unit = "mm²",
         .basis = given ? "given"
                        : fmt::format("the smallest that passes every check{}: a quarter of the "
                                      "current in hand, a tenth above its fuse, terminals below "
                                      "{:g} °C, at most 1 % drop, a short survived (common "
                                      "practice, no source, but for the tables)",
                                      main->decided_by.empty()
                                          ? std::string()
                                          : "; " + main->decided_by + " ruled out the next smaller",
                                      main->run.terminal_C)});
    if (main->area_mm2 >= wiring::ampacity_sections_mm2(wiring::Method::c).front())
      add("ampacity_A", "it may carry", run.ampacity);
    if (main->run.terminal_C < (main->run.insulation == wiring::Insulation::pvc ? 70.0 : 90.0))
      add("terminals_A", "the same with its terminals as cool as they must be",
          {.value = main->ampacity_A,
           .unit = "A",
           .basis = fmt::format("times the root of ({:g} − {:g}) over ({:g} − {:g}) °C",
                                main->run.terminal_C, main->run.ambient_C,
                                main->run.insulation == wiring::Insulation::pvc ? 70.0 : 90.0,
                                main->run.ambient_C)});
    add("drop_percent", "drop along it", run.drop_percent);
    add("drop_V", "the same in volts", run.drop_V);
    add("loss_W", "heat along it", run.loss_W);
  }
  if (lead != nullptr)
    add("lead_mm2",
        lead->proposed ? "section of the packs' leads, the smallest that does"
                       : "section of the packs' leads, as given",
        {.value = lead->area_mm2,
         .unit = "mm²",
         .basis = lead->decided_by.empty() ? std::string("see the runs' table")
                                           : lead->decided_by + " ruled out the next smaller"});
  const auto no_rating = [&](std::string_view what, double needed_A) {
    plan.findings.push_back(
        {.id = findings::Id::no_fuse_rating,
         .severity = Severity::stop,
         .what = fmt::format("No preferred fuse rating reaches what {} must carry.", what),
         .where = "[bus] power_W",
         .measured = fmt::format("{:.0f} A", needed_A),
         .limit = fmt::format("{:.0f} A", wiring::fuse_ratings_A().back()),
         .why = "Nothing usual would protect it.",
         .remedy = "A higher bus voltage, more packs, or a design by a licensed engineer.",
         .basis = "[IEC60269-1] preferred ratings, from memory"});
  };
  if (fuse_A <= 0.0) no_rating("a pack's fuse", continuous_factor * pack_A);
  if (main_A <= 0.0) no_rating("the main fuse", continuous_factor * current_A);
  if (fuse_A > 0.0)
    add("pack_fuse_A", chosen ? "each pack's fuse, as given" : "each pack's fuse, at least",
        {.value = fuse_A,
         .unit = "A",
         .basis = fmt::format(
             "{:.0f} A at worst in one pack, a quarter in hand, next preferred rating", pack_A)});
  if (main_A > 0.0)
    add("main_fuse_A", "main fuse or breaker",
        {.value = main_A,
         .unit = "A",
         .basis = "design current with a quarter in hand, next preferred rating"});
  if (fuse_A > 0.0 && !plan.circuit.circuit.devices_given)
    check_pack_fuse(p, l, pack_break.value, plan);
  for (const findings::Finding& f : plan.circuit.findings) plan.findings.push_back(f);
  check_against_settings(p, l, lead, plan);
  if (const auto breaks = p.wiring.fuse_breaking.in(units::kA);
      breaks && !plan.circuit.circuit.devices_given)
    add("fuse_breaks_kA", "the chosen pack fuse breaks",
        {.value = *breaks,
         .unit = "kA",
         .basis = "given: the direct-current rating printed on the part"});
  const double left_W = (l.packs - 1) * fuse_A / continuous_factor * stop_V;
  if (fuse_A > 0.0 && l.packs > 1 && left_W < p.bus.power.in(units::W))
    plan.findings.push_back(
        {.id = findings::Id::one_pack_open,
         .severity = Severity::caution,
         .what = fmt::format(
             "With one pack off the bus the {} cannot carry the design power through {} fuse{}.",
             l.packs == 2 ? "other" : "others", l.packs == 2 ? "its" : "their",
             l.packs == 2 ? "" : "s"),
         .where = "[wiring] pack_fuse_A",
         .measured = fmt::format("{:.0f} A fuses", fuse_A),
         .limit = fmt::format("{:.0f} W, without limit of time, with one pack off", left_W),
         .why = "A pack that trips leaves its share to the rest; their fuses go next.",
         .remedy = fmt::format(
             "Hold the load to {:.1f} kW while a pack is off, or fit fuses and leads for the whole current.",
             std::floor(left_W / 100.0) / 10.0),
         .basis = "Kirchhoff's laws; a quarter in hand is common practice, no source"});

  const double capacitance =
      p.inverter.capacitance.in(units::mF).value_or(1.5 * p.bus.power.in(units::W) / 1000.0);
  const Json pre = {{"voltage_V", just_charged_V * l.series},
                    {"capacitance_mF", capacitance},
                    {"resistance_Ohm", p.wiring.precharge.in(units::Ohm)}};
  add("precharge_time_s", "precharge takes", reckon("precharge", pre, "time_s"));
  add("precharge_peak_W", "its resistor takes, at first", reckon("precharge", pre, "peak_power_W"));
  add("precharge_energy_J", "and each time", reckon("precharge", pre, "energy_J"));

  const double loop_Ohm =
      (fault.inside.si() + 2.0 * l.lead.si()) / l.packs +
      (main != nullptr ? main->drop_V / std::max(1e-9, main->current_A.value_or(1.0)) : 0.0);
  add("inrush_kA", "without a precharge the capacitors would draw, at first",
      {.value = just_charged_V * l.series / loop_Ohm / 1e3,
       .unit = "kA",
       .basis = fmt::format("just charged over {} mΩ of packs and cable; inductance only delays it",
                            base::significant(loop_Ohm * 1e3, 3))});
  const double precharge_Ohm = p.wiring.precharge.in(units::Ohm);
  add("bleed_s", "capacitors below 1 V, once off, through that resistor",
      {.value = precharge_Ohm * capacitance * 1e-3 * std::log(just_charged_V * l.series),
       .unit = "s",
       .basis = "R·C·ln(V/1 V); without a resistor across them they stay charged for days"});
  const double standby_A = p.inverter.standby.in(units::W) / (just_charged_V * l.series);
  if (const double held = standby_A * precharge_Ohm; held > 0.02 * just_charged_V * l.series)
    plan.findings.push_back(
        {.id = findings::Id::precharge_never_done,
         .severity = Severity::caution,
         .what = "What the inverter draws at standby keeps its capacitors from filling.",
         .where = "[inverter] standby_W",
         .measured = fmt::format("{:.1f} V short of the bus", held),
         .limit = fmt::format("{:.1f} V", 0.02 * just_charged_V * l.series),
         .why = "The contactor closes on the difference, with a spark.",
         .remedy = "A smaller resistor, or the inverter switched off meanwhile.",
         .basis = "V = V0 − I·R [Kirchhoff1847]; the limit is common practice, no source"});
  if (l.packs > 1) {
    const double pack_Ohm = fault.inside.si() + l.pack_extra.si() + 2.0 * l.lead.si();
    const double allowed_A =
        std::min(fuse_A / continuous_factor,
                 p.cell.max_charge_rate() * l.parallel * cell_capacity(p, plan).value);
    Figure f = reckon("joining-current",
                      {{"difference_V", 0.1}, {"path_mOhm", 2.0 * pack_Ohm * 1e3}}, "current_A");
    add("joining_A", "joined with 0.1 V between them, two packs pass", f);
    add("joining_mV", "packs may be joined within",
        {.value = std::min(100.0, allowed_A * 2.0 * pack_Ohm * 1e3),
         .unit = "mV",
         .basis =
             fmt::format("at most 0.1 V (common practice, no source), and {:.0f} A, which fuse "
                         "and cells take, times both packs' {} mΩ; full, where voltage says "
                         "what charge is",
                         allowed_A, base::significant(2.0 * pack_Ohm * 1e3, 2))});
  }

  std::vector<wiring::JointReading> readings;
  if (const File* f = series_file(p, "joints.csv")) readings = wiring::read_joints(f->bytes, l);
  plan.joints = wiring::joint_map(l, plan.box ? plan.box->rows : 1, readings, pack_A * units::A);
  const double joint_W =
      std::accumulate(plan.joints.joints.begin(), plan.joints.joints.end(), 0.0,
                      [](double sum, const wiring::Joint& j) { return sum + j.heat_W; });
  add("joints_W", "heat in all links and lugs at the design current",
      {.value = joint_W,
       .unit = "W",
       .basis = fmt::format("{} of {} joints measured (joints.csv), the others as [layout] says",
                            plan.joints.measured, plan.joints.joints.size())});
  check_bars(p, l, pack_A, plan);
  wiring::Bolt bolt = {.diameter_mm = *wiring::thread_named(p.joint.thread.code()),
                       .length_mm = p.joint.bolt.in(units::mm),
                       .stack_mm = p.joint.stack.in(units::mm),
                       .depth_mm = p.joint.depth.in(units::mm),
                       .torque_Nm = p.joint.torque_Nm()};
  const wiring::BoltResult held = wiring::check_bolt(bolt);
  if (held.engagement_mm)
    add("engagement_mm", "thread that holds the bolt",
        {.value = *held.engagement_mm,
         .unit = "mm",
         .basis = "bolt less what lies under its head"});
  if (held.force_low_kN)
    add("clamp_kN", "a bolt presses with, at its torque",
        {.value = 0.5 * (*held.force_low_kN + *held.force_high_kN),
         .u = 0.5 * (*held.force_high_kN - *held.force_low_kN) / std::sqrt(3.0),
         .unit = "kN",
         .basis = "F = T/(K·d), K = 0.2 within three tenths [Shigley2011]"});
  for (const findings::Finding& f : plan.joints.findings) plan.findings.push_back(f);
  for (const findings::Finding& f : held.findings) plan.findings.push_back(f);

  step.sentence =
      main == nullptr
          ? std::string("No run leads to an inverter: nothing here can be checked.")
          : fmt::format(
                "{} A at worst: {:.3g} mm² copper over {:g} m drops {} %. A dead short at a pack's terminals draws up to {} kA; "
                "each pack's fuse must break {} kA, direct current.",
                base::significant(current_A, 3), main != nullptr ? main->area_mm2 : 0.0,
                main != nullptr ? main->run.length_m : 0.0,
                base::significant(main != nullptr ? main->drop_percent : 0.0, 2),
                base::fixed(fault.high.value, 1), base::fixed(pack_break.value, 1));
}

}  // namespace works::steps
