// SPDX-License-Identifier: Apache-2.0
#include "commission/settings.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "base/figure.hpp"

namespace commission {
namespace {

namespace units = base::units;
using findings::Finding;
using findings::Severity;

constexpr std::string_view practice = "common practice, no source";
constexpr std::string_view sheet_rules = "the cell's sheet overrides";
constexpr std::string_view memory = "from memory; the cell's sheet overrides";

std::string volts(base::Volts v, int decimals) {
  return fmt::format("{:.{}f} V", v.in(units::V), decimals);
}
std::string amps(base::Amps a) {
  return fmt::format("{:.{}f} A", a.in(units::A), a.in(units::A) < 20 ? 1 : 0);
}
std::string celsius(base::Temperature t) { return base::fixed(t.in_C(), 0) + " °C"; }

/// A rule "first below second by at least `margin`", as a finding where it is broken.
struct Order {
  findings::Id id;
  std::string_view first_name, second_name;
  base::Volts first, second, margin;
  Severity severity;
  std::string_view why, remedy;
};

void hold(std::vector<Finding>& findings, const Order& rule) {
  if (rule.first + rule.margin <= rule.second + base::Volts::from_si(1e-9)) return;
  findings.push_back(
      Finding{.id = rule.id,
              .severity = rule.severity,
              .what = fmt::format("{} ({}) must lie at least {:.0f} mV a cell below {} ({}).",
                                  rule.first_name, volts(rule.first, 3), rule.margin.in(units::mV),
                                  rule.second_name, volts(rule.second, 3)),
              .where = "settings",
              .measured = fmt::format("{:.0f} mV apart", (rule.second - rule.first).in(units::mV)),
              .limit = fmt::format("{:.0f} mV", rule.margin.in(units::mV)),
              .why = std::string(rule.why),
              .remedy = std::string(rule.remedy),
              .basis = std::string(practice)});
}

/// The least of what the cells take and what protects the copper, and which of them decided.
struct Least {
  base::Amps current;
  std::string reason;
};
Least least_of(base::Amps cells, base::Amps copper, std::string_view what) {
  if (cells <= copper)
    return {cells, fmt::format("the cells' limit; {} would carry {}", what, amps(copper))};
  return {copper, fmt::format("{} carry this without limit of time; the cells would take {}", what,
                              amps(cells))};
}

}  // namespace

base::Amps Carrying::bank(int packs) const {
  return std::min({main_fuse * 0.8, main_run * 0.8, pack() * double(packs)});
}

std::vector<Setting> settings_sheet(const cell::Datasheet& sheet, const layout::Layout& l,
                                    const layout::Limits& limits, base::AmpHours cell_capacity,
                                    const Carrying& carrying) {
  std::vector<Setting> lines;
  const double s = l.series;
  const auto at_bus = [&](std::string device, std::string name, base::Volts per_cell,
                          std::string reason) {
    lines.push_back({std::move(device), std::move(name), volts(per_cell * s, 1), volts(per_cell, 2),
                     std::move(reason), std::string(practice)});
  };
  const base::Amps pack_rate = cell_capacity * double(l.parallel) / units::h;
  const Least charge = least_of(pack_rate * (sheet.max_charge_rate * l.packs),
                                carrying.bank(l.packs), "fuses and cable");
  const Least pack_charge =
      least_of(pack_rate * sheet.max_charge_rate, carrying.pack(), "its fuse, leads and BMS");
  const Least pack_discharge =
      least_of(pack_rate * sheet.max_discharge_rate, carrying.pack(), "its fuse, leads and BMS");
  const auto& c = limits.charger;
  const auto& i = limits.inverter;
  const auto& b = limits.bms;
  at_bus("Charger", "bulk and absorption", c.per_cell,
         "full to within a few percent, with room below every trip; the last millivolts buy little "
         "charge");
  lines.push_back(
      {"Charger", "absorption ends at tail current", amps(pack_rate * (c.tail_rate * l.packs)), "",
       fmt::format(
           "{:.0f} % of capacity an hour: the current says 'full', the voltage alone does not",
           c.tail_rate * 100),
       std::string(practice)});
  at_bus("Charger", "float", c.float_per_cell,
         "holds the loads without holding the cells at the top; off is as good");
  at_bus("Charger", "charge again below", c.recharge_per_cell, "one charge a day is enough");
  lines.push_back(
      {"Charger", "current, at most", amps(charge.current), "",
       charge.reason +
           (l.packs > 1 ? "; with a pack open, only the share of those on the bus" : ""),
       std::string(practice)});
  lines.push_back({"Charger", "absorption ends after, at most", "0.5 h", "",
                   "where no tail current can be set", std::string(practice)});
  lines.push_back({"Charger", "temperature compensation", "0 mV/°C", "",
                   "a habit of lead-acid; wrong here", std::string(practice)});
  lines.push_back({"Charger", "equalisation", "off", "",
                   "a habit of lead-acid; it would trip the BMS or harm cells",
                   std::string(practice)});
  at_bus("Inverter", "stop charging above", i.charge_stop_per_cell,
         "backs up the charger, before a BMS has to open");
  at_bus("Inverter", "low-voltage alarm", i.alarm_per_cell, "time to shed load");
  at_bus("Inverter", "stop discharging below", i.stop_per_cell,
         "the inverter stops, not the BMS: a BMS that opens may need a charger to wake it");
  at_bus("Inverter", "restart above", i.restart_per_cell,
         "above the rebound after the load has gone, so that it does not hunt");
  // A pack that is open carries nothing: limits are those of the packs that are left.
  if (l.packs > 1)
    for (int k = l.packs; k >= std::max(1, l.packs - 3); --k)
      lines.push_back(
          {"Inverter", fmt::format("current with {} of {} packs on the bus", k, l.packs),
           amps(std::min(pack_discharge.current * double(k), carrying.bank(l.packs))) +
               (k == l.packs ? "" : " at most"),
           "",
           k == l.packs
               ? "the packs' least limit times their number, and what the main run carries"
               : "where no BMS tells the inverter, set it by hand before the load comes back",
           std::string(practice)});
  const auto cell_level = [&](std::string name, std::string value, std::string reason,
                              std::string_view basis) {
    lines.push_back({"BMS of each pack", std::move(name), std::move(value), "", std::move(reason),
                     std::string(basis)});
  };
  cell_level("cell high: open", volts(b.cell_high, 2), "the last line, not the working limit",
             sheet_rules);
  cell_level("cell high: release", volts(b.cell_high_release, 2),
             "low enough that it does not chatter", practice);
  cell_level("cell low: open", volts(b.cell_low, 2), "the last line against deep discharge",
             sheet_rules);
  cell_level("cell low: release", volts(b.cell_low_release, 2), "above the rebound", practice);
  cell_level("no charging below", celsius(b.charge_stop),
             "cold charging plates lithium: harm for good, and a hazard", sheet_rules);
  cell_level("charging allowed again above", celsius(b.charge_release),
             "sensor on a cell, not on the wall", practice);
  const auto pack_level = [&](std::string name, std::string value, std::string reason,
                              std::string_view basis) {
    lines.push_back({"BMS of each pack", std::move(name), std::move(value), "", std::move(reason),
                     std::string(basis)});
  };
  pack_level("no charging above", celsius(b.charge_hot), "hot charging ages and gasses cells",
             memory);
  pack_level("no discharging above", celsius(b.discharge_hot), "the cell's own limit, with room",
             memory);
  pack_level("no discharging below", celsius(b.discharge_cold), "the cell's own limit", memory);
  pack_level("charge current", amps(pack_charge.current), pack_charge.reason, practice);
  pack_level("discharge current", amps(pack_discharge.current),
             pack_discharge.reason + "; less where the BMS is rated less", practice);
  pack_level("short circuit", "on, shortest delay",
             "it may act before the fuse; the fuse stays what protects", practice);
  const auto& e = limits.balancer;
  lines.push_back({"Balancer", "starts above", volts(e.start, 2), "",
                   "only the steep part tells who is ahead", std::string(practice)});
  lines.push_back({"Balancer", "works where the spread exceeds",
                   fmt::format("{:.0f} mV", e.window.in(units::mV)), "",
                   "below that it only moves noise", std::string(practice)});
  return lines;
}

std::vector<Finding> check_settings(const cell::Datasheet& sheet, const layout::Layout& l,
                                    const layout::Limits& limits, base::Volts sag,
                                    const Habits& habits) {
  std::vector<Finding> findings;
  const auto& c = limits.charger;
  const auto& i = limits.inverter;
  const auto& b = limits.bms;
  const auto mV = units::mV;
  hold(findings,
       {findings::Id::charger_above_trip, "the charger's target", "the BMS's high trip", c.per_cell,
        b.cell_high, 50.0 * mV, Severity::stop,
        "The BMS would open under charge: chargers without a battery can send a spike into "
        "everything on the bus.",
        "Lower the charger's target, or raise the trip as far as the cell's sheet allows."});
  hold(findings, {findings::Id::charger_above_inverter_stop, "the charger's target",
                  "the inverter's charge stop", c.per_cell, i.charge_stop_per_cell, 20.0 * mV,
                  Severity::caution, "The back-up would act every day in place of the charger.",
                  "Raise the inverter's charge stop, below the BMS's trip."});
  hold(findings,
       {findings::Id::inverter_charge_stop_above_trip, "the inverter's charge stop",
        "the BMS's high trip", i.charge_stop_per_cell, b.cell_high, 20.0 * mV, Severity::caution,
        "The BMS would act before the back-up.", "Lower the inverter's charge stop."});
  hold(findings, {findings::Id::trip_above_sheet_high, "the BMS's high trip",
                  "the cell's upper limit", b.cell_high, sheet.max, 0.0 * mV, Severity::stop,
                  "The last line lies beyond what the cell may see.",
                  "Set the trip at or below the cell's sheet."});
  hold(findings, {findings::Id::trip_below_sheet_low, "the cell's lower limit",
                  "the BMS's low trip", sheet.min, b.cell_low, 0.0 * mV, Severity::stop,
                  "The last line lies beyond what the cell may see.",
                  "Set the trip at or above the cell's sheet."});
  hold(findings,
       {findings::Id::inverter_stop_below_bms, "the BMS's low trip", "the inverter's low stop",
        b.cell_low, i.stop_per_cell, 100.0 * mV, Severity::stop,
        "The BMS would cut the house off, and some then need a charger before they close again.",
        "Raise the inverter's stop."});
  hold(findings, {findings::Id::alarm_below_stop, "the inverter's low stop", "its alarm",
                  i.stop_per_cell, i.alarm_per_cell, 20.0 * mV, Severity::note,
                  "An alarm after the stop warns nobody.", "Raise the alarm."});
  hold(findings,
       {findings::Id::restart_within_rebound, "the inverter's low stop with the sag gone",
        "its restart", i.stop_per_cell + sag, i.restart_per_cell, 20.0 * mV, Severity::caution,
        "When the load goes, the voltage rebounds: the inverter would start and stop again and "
        "again.",
        "Raise the restart, or let it wait for a charger."});
  hold(findings, {findings::Id::high_release_not_below, "the BMS's high release", "its high trip",
                  b.cell_high_release, b.cell_high, 50.0 * mV, Severity::caution,
                  "It would chatter.", "Lower the release."});
  hold(findings, {findings::Id::low_release_not_above, "the BMS's low trip", "its low release",
                  b.cell_low, b.cell_low_release, 100.0 * mV, Severity::caution,
                  "It would chatter.", "Raise the release."});
  hold(findings, {findings::Id::float_above_charge, "float", "the charger's target",
                  c.float_per_cell, c.per_cell, 10.0 * mV, Severity::caution,
                  "The bank would be held at the top for good.", "Lower float, or switch it off."});
  hold(findings,
       {findings::Id::float_too_high, "float", "3.40 V", c.float_per_cell, 3.40 * units::V,
        0.0 * mV, Severity::note, "Held near full for long, cells age faster.",
        "Float at 3.35 to 3.38 V a cell, or switch it off."});
  hold(findings, {findings::Id::balancer_below_knee, "3.40 V", "the balancer's start",
                  3.40 * units::V, limits.balancer.start, 0.0 * mV, Severity::caution,
                  "On the flat part a higher voltage is not more charge: the balancer would move "
                  "charge the wrong way.",
                  "Start balancing at 3.40 V a cell or above."});
  hold(findings, {findings::Id::balancer_never_starts, "the balancer's start",
                  "the charger's target", limits.balancer.start, c.per_cell, 20.0 * mV,
                  Severity::caution, "The bank would never rise to where the balancer works.",
                  "Raise the charger's target, or lower the balancer's start."});
  const auto habit = [&](findings::Id id, Severity severity, std::string what, std::string measured,
                         std::string why, std::string remedy) {
    findings.push_back({.id = id,
                        .severity = severity,
                        .what = std::move(what),
                        .where = "settings",
                        .measured = std::move(measured),
                        .limit = "",
                        .why = std::move(why),
                        .remedy = std::move(remedy),
                        .basis = std::string(practice)});
  };
  if (habits.equalise)
    habit(findings::Id::equalise_on, Severity::stop,
          "The charger equalises, as lead-acid wants it.", "on",
          "It drives the bank far above every trip.", "Switch it off, for good.");
  if (habits.compensation_mV_K != 0.0)
    habit(
        findings::Id::temperature_compensated, Severity::caution,
        "The charging voltage follows the temperature, as lead-acid wants it.",
        fmt::format("{:g} mV/K", habits.compensation_mV_K),
        "On a cold day the target rises above the BMS's trip, on a hot one the bank is not filled.",
        "Set it to 0.");
  if (habits.absorption > 2.0 * units::h)
    habit(findings::Id::absorption_too_long, Severity::caution,
          "The bank is held at the top for hours.",
          fmt::format("{:g} h", habits.absorption.in(units::h)),
          "Full and warm is where cells age, and nothing is gained.",
          "End it at the tail current, or after half an hour.");
  if (habits.balances_always)
    habit(findings::Id::balancer_always_on, Severity::caution, "The balancer may work at any time.",
          "always",
          "Outside the steep part the higher voltage is not the fuller cell: it moves charge the "
          "wrong way, and drains the bank in the dark.",
          "Let it work while charging only, from 3.40 V a cell.");
  if (habits.sensor == Habits::Sensor::wall)
    habit(findings::Id::sensor_on_wall, Severity::stop,
          "The temperature sensor does not lie on a cell.", "wall",
          "A thawed wall says nothing of a cell that is still frozen: charging plates lithium.",
          "Put the sensors on cells, one in the middle and one at the edge.");
  else if (habits.sensor == Habits::Sensor::not_said)
    habit(findings::Id::sensor_not_said, Severity::note,
          "Nobody said what the temperature sensors lie on.", "",
          "The charge stop in the cold is worth what its sensor is worth.",
          "Write [bms] sensor_on once they are in place.");
  if (b.charge_stop < sheet.charge_min)
    findings.push_back(
        {.id = findings::Id::charging_in_the_cold,
         .severity = Severity::stop,
         .what = fmt::format("The BMS allows charging down to {}.", celsius(b.charge_stop)),
         .where = "settings",
         .measured = celsius(b.charge_stop),
         .limit = celsius(sheet.charge_min),
         .why = "Charging in the cold plates lithium: harm for good, and a hazard.",
         .remedy = "Set the charge stop at the cell's limit or above, with the sensor on a cell.",
         .basis = "the cell's sheet"});
  if ((sheet.max * double(l.series)).in(units::V) > 60.0)
    findings.push_back(
        {.id = findings::Id::above_60_volts,
         .severity = Severity::caution,
         .what = fmt::format("The bank can reach {}.", volts(sheet.max * double(l.series), 1)),
         .where = "layout",
         .measured = volts(sheet.max * double(l.series), 1),
         .limit = "60 V",
         .why =
             "Above 60 V direct current, parts that can be touched need protection against shock.",
         .remedy = "Use fewer groups in series, or have the installation designed by a licensed "
                   "electrician.",
         .basis = "[IEC60364-4-41] 414, extra-low voltage without basic protection"});
  return findings;
}

}  // namespace commission
