// SPDX-License-Identifier: Apache-2.0
// Wire and Commission: what carries the current, what stops it, and the settings in their layers.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "bank/figures.hpp"
#include "wiring/conductor.hpp"
#include "wiring/fault.hpp"
#include "wiring/sharing.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"
#include "works/twin.hpp"

namespace works::steps {
namespace {

namespace units = base::units;
using base::Figure;
using base::Json;
using base::Severity;

constexpr double continuous_factor =
    1.25;  // common practice: continuous current with a quarter in hand
constexpr double cable_over_fuse = 1.10;  // [IEC60364-4-43] 433.1 for fuses of general purpose
constexpr double largest_drop_percent = 1.0;
constexpr double just_charged_V = 3.60;  // a cell just off the charger
constexpr double nearly_empty_V = 3.00;

struct Run {
  double area_mm2 = 0.0;
  Figure ampacity, drop_percent, drop_V, loss_W;
};

Run run_of(const Project& p, double area_mm2, double current_A, double bus_V) {
  // The free-air table starts at 25 mm²; below it the table for a surface is the safe one.
  const std::string method = area_mm2 < 25.0 ? "C" : p.text("wiring", "method");
  const Json amp = {{"insulation", p.text("wiring", "insulation")},
                    {"method", method},
                    {"area_mm2", area_mm2},
                    {"ambient_C", p.number("wiring", "ambient_C")},
                    {"circuits", p.number("wiring", "circuits")},
                    {"grouping", p.text("wiring", "grouping")}};
  const double hot = p.text("wiring", "insulation") == "pvc" ? 70.0 : 90.0;
  const Json drop = {{"area_mm2", area_mm2},
                     {"class", "5"},
                     {"length_m", p.number("wiring", "length_m")},
                     {"current_A", current_A},
                     {"temperature_C", hot},
                     {"system_V", bus_V}};
  return {area_mm2, reckon("ampacity", amp, "current_A"),
          reckon("voltage-drop", drop, "drop_percent"), reckon("voltage-drop", drop, "drop_V"),
          reckon("voltage-drop", drop, "loss_W")};
}

/// The smallest section that carries the current with a quarter in hand, stands a tenth above its
/// fuse and keeps the drop within a hundredth.
Run choose_run(const Project& p, double current_A, double bus_V, double fuse_A) {
  const wiring::Method method =
      p.text("wiring", "method") == "C" ? wiring::Method::c : wiring::Method::f;
  const auto sections = wiring::ampacity_sections_mm2(method);
  for (const double area : sections) {
    const Run run = run_of(p, area, current_A, bus_V);
    if (run.ampacity.value >= continuous_factor * current_A &&
        run.ampacity.value >= cable_over_fuse * fuse_A &&
        run.drop_percent.value <= largest_drop_percent)
      return run;
  }
  return run_of(p, sections.back(), current_A, bus_V);
}

struct Fault {
  Figure high, low;  ///< of one pack, dead short at the bus
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
             nearly_empty_V, whole.in(units::mOhm), ends.high.in(units::mOhm)))};
}

void check_fuse(const Project& p, const layout::Layout& l, double fuse_A, double needed_kA,
                double low_A, Plan& plan) {
  const auto breaking = p.maybe("wiring", "fuse_breaking_kA");
  const std::string need = fmt::format("{:.1f} kA direct current at {:.1f} V", needed_kA,
                                       l.series * p.number("cell", "max_V"));
  if (!breaking)
    plan.findings.push_back(
        {.id = "fuse-breaking-capacity-unknown",
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
        {.id = "fuse-cannot-break",
         .severity = Severity::stop,
         .what = "The pack's fuse cannot break what it may meet.",
         .where = "[wiring] fuse_breaking_kA",
         .measured = fmt::format("{:g} kA", *breaking),
         .limit = need,
         .why = "A fuse that cannot break the fault current bursts and the arc goes on.",
         .remedy = "Take a fuse with a higher direct-current breaking capacity.",
         .basis = "[IEC60269-1] breaking capacity"});
  if (low_A < 5.0 * fuse_A)
    plan.findings.push_back(
        {.id = "fuse-may-not-clear",
         .severity = Severity::caution,
         .what = "At the weak end the fault current is little above the fuse's rating.",
         .where = "[wiring]",
         .measured = fmt::format("{:.0f} A for a {:.0f} A fuse", low_A, fuse_A),
         .limit = "about five times the rating, to clear within seconds (from memory)",
         .why = "The cable burns before the fuse opens.",
         .remedy = "A smaller or faster fuse, shorter leads, or a thicker cable; compare with the "
                   "fuse's published curve.",
         .basis = "common practice, no source"});
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
  const double stop_V = p.number("inverter", "stop_per_cell_V") * l.series,
               current_A = p.number("bus", "power_W") / stop_V;
  add("design_current_A", "design current, at the inverter's stop",
      {.value = current_A,
       .unit = "A",
       .basis = fmt::format("power over {:.1f} V, the bus when the inverter stops", stop_V)});
  const double nominal_V = p.number("cell", "nominal_V") * l.series;
  const double main_A =
      wiring::smallest_fuse_for(continuous_factor * current_A * units::A).in(units::A);
  const auto given = p.maybe("wiring", "area_mm2");
  const Run run =
      given ? run_of(p, *given, current_A, nominal_V) : choose_run(p, current_A, nominal_V, main_A);
  add("area_mm2",
      given ? "section of the main run, as given"
            : "section of the main run, the smallest that does",
      {.value = run.area_mm2,
       .unit = "mm²",
       .basis =
           given
               ? "given"
               : "smallest section with a quarter of the current in hand, a tenth above its fuse, and at most 1 % drop (common practice, no source)"});
  add("ampacity_A", "it may carry", run.ampacity);
  add("drop_percent", "drop along it", run.drop_percent);
  add("drop_V", "the same in volts", run.drop_V);
  add("loss_W", "heat along it", run.loss_W);
  if (run.ampacity.value < continuous_factor * current_A)
    plan.findings.push_back(
        {.id = "conductor-too-small",
         .severity = run.ampacity.value < current_A ? Severity::stop : Severity::caution,
         .what = "The main run carries the design current without a quarter in hand.",
         .where = "[wiring]",
         .measured = fmt::format("{:.0f} A", run.ampacity.value),
         .limit = fmt::format("{:.0f} A", continuous_factor * current_A),
         .why = "Insulation ages and burns.",
         .remedy = "A larger section, two runs side by side, or a higher bus voltage.",
         .basis = "[IEC60364-5-52]; the quarter is common practice, no source"});

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
      {.value = l.series * p.number("cell", "max_V"),
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
          {.id = "uneven-sharing",
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
  const auto chosen = p.maybe("wiring", "pack_fuse_A");
  const double fuse_A =
      chosen ? *chosen
             : wiring::smallest_fuse_for(continuous_factor * pack_A * units::A).in(units::A);
  const auto no_rating = [&](std::string_view what, double needed_A) {
    plan.findings.push_back(
        {.id = "no-fuse-rating",
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
  if (run.ampacity.value < cable_over_fuse * main_A)
    plan.findings.push_back(
        {.id = "fuse-above-cable",
         .severity = Severity::caution,
         .what = "The main fuse does not protect the main run against a lasting overload.",
         .where = "[wiring] area_mm2",
         .measured = fmt::format("{:.0f} A cable, {:.0f} A fuse", run.ampacity.value, main_A),
         .limit = fmt::format("a cable for {:.0f} A", cable_over_fuse * main_A),
         .why = "A fuse of general purpose carries 1.45 times what the cable may for hours.",
         .remedy = "A larger section.",
         .basis = "[IEC60364-4-43] 433.1, In ≤ Iz / 1.1"});
  if (fuse_A > 0.0) check_fuse(p, l, fuse_A, pack_break.value, fault.low.value * 1000.0, plan);
  if (const auto breaks = p.maybe("wiring", "fuse_breaking_kA"))
    add("fuse_breaks_kA", "the chosen pack fuse breaks",
        {.value = *breaks,
         .unit = "kA",
         .basis = "given: the direct-current rating printed on the part"});
  const double left_W = (l.packs - 1) * fuse_A / continuous_factor * stop_V;
  if (fuse_A > 0.0 && l.packs > 1 && left_W < p.number("bus", "power_W"))
    plan.findings.push_back(
        {.id = "one-pack-open",
         .severity = Severity::caution,
         .what = fmt::format(
             "With one pack off the bus the {} cannot carry the design power through {} fuse{}.",
             l.packs == 2 ? "other" : "others", l.packs == 2 ? "its" : "their",
             l.packs == 2 ? "" : "s"),
         .where = "[wiring] pack_fuse_A",
         .measured = fmt::format("{:.0f} A fuses", fuse_A),
         .limit = fmt::format("{:.0f} W for ever with one pack off", left_W),
         .why = "A pack that trips leaves its share to the rest; their fuses go next.",
         .remedy = fmt::format(
             "Hold the load to {:.1f} kW while a pack is off, or fit fuses and leads for the whole current.",
             std::floor(left_W / 100.0) / 10.0),
         .basis = "Kirchhoff's laws; a quarter in hand is common practice, no source"});

  const double capacitance =
      p.maybe("inverter", "capacitance_mF").value_or(1.5 * p.number("bus", "power_W") / 1000.0);
  const Json pre = {{"voltage_V", just_charged_V * l.series},
                    {"capacitance_mF", capacitance},
                    {"resistance_Ohm", p.number("wiring", "precharge_Ohm")}};
  add("precharge_time_s", "precharge takes", reckon("precharge", pre, "time_s"));
  add("precharge_peak_W", "its resistor takes, at first", reckon("precharge", pre, "peak_power_W"));
  add("precharge_energy_J", "and each time", reckon("precharge", pre, "energy_J"));

  step.sentence = fmt::format(
      "{} A at worst: {:g} mm² copper over {:g} m drops {} %. A dead short at a pack's terminals draws up to {} kA; "
      "each pack's fuse must break {} kA, direct current.",
      base::significant(current_A, 3), run.area_mm2, p.number("wiring", "length_m"),
      base::significant(run.drop_percent.value, 2), base::fixed(std::ceil(fault.high.value), 0),
      base::fixed(std::ceil(pack_break.value), 0));
}

namespace {
/// What wire() found that the settings must respect.
commission::Carrying carrying(const Plan& plan) {
  const auto amps = [&](const char* path, double otherwise_A) {
    const Named* n = find_figure(plan, path);
    return (n != nullptr ? n->figure.value : otherwise_A) * units::A;
  };
  const base::Amps run = amps("wire.ampacity_A", 0.0);  // always there
  return {amps("wire.pack_fuse_A", wiring::fuse_ratings_A().back()),
          amps("wire.main_fuse_A", run.in(units::A)), run};
}
}  // namespace

void commission(const Project& p, Plan& plan) {
  const layout::Layout l = layout_of(p);
  const cell::Datasheet sheet = datasheet(p);
  const layout::Limits set = limits(p);
  const double current_A = p.number("bus", "power_W") /
                           (p.number("inverter", "stop_per_cell_V") * l.series) /
                           (l.packs * l.parallel);
  const base::Volts sag = current_A * units::A * (cell_resistance(p, plan).value * units::mOhm);
  plan.settings = commission::settings_sheet(
      sheet, l, set, cell_capacity(p, plan).value * units::Ah, carrying(plan));
  const auto findings = commission::check_settings(sheet, l, set, sag);
  const bool clean = std::none_of(findings.begin(), findings.end(), [](const base::Finding& f) {
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
    TwinOfProject twin = twin_of(p, plan, 1.0, p.number("match", "design_C"));
    const bank::Usable u =
        bank::usable(twin.setup, p.number("bus", "power_W"), p.number("match", "design_C"));
    const std::string why =
        u.weakest_cell < 0
            ? std::string("the twin gave nothing")
            : fmt::format(
                  "the twin, from full at {:.0f} W and {:g} °C: {}; {} was lowest, {:.2f} V: {}",
                  p.number("bus", "power_W"), p.number("match", "design_C"),
                  u.ended_by ? words(*u.ended_by) : std::string("it did not end"),
                  twin.names[std::size_t(u.weakest_cell)], u.weakest_V, words(u.why));
    const auto add = [&](std::string key, std::string label, double value, std::string unit) {
      step.figures.push_back({std::move(key),
                              std::move(label),
                              {.value = value, .unit = std::move(unit), .basis = why}});
    };
    add("usable_kWh", "delivered from full at the design power", u.Wh / 1e3, "kWh");
    add("usable_Ah", "charge that this takes", u.Ah, "Ah");
    add("usable_hours", "for so long", u.hours, "h");
    add("hottest_C", "hottest cell by then", u.hottest_C, "°C");
    add("path_loss_Wh", "lost in links, joints, BMS and leads", u.path_heat_Wh, "Wh");
  }
  step.sentence = fmt::format(
      "{} settings in layers{}. Charge in series first: a top balance in parallel then takes {} "
      "hours a pack instead of {}.",
      plan.settings.size(),
      clean ? " that act in order" : ", of which some fight: see the findings",
      base::significant(step.figures[2].figure.value, 2),
      base::significant(step.figures[1].figure.value, 3));
}

}  // namespace works::steps
