// SPDX-License-Identifier: Apache-2.0
#include "works/settings.hpp"

namespace works {
namespace {

using Kind = Setting::Kind;
constexpr std::string_view practice = "common practice, no source";
constexpr std::string_view memory = "from memory; the cell's sheet overrides";
constexpr std::string_view nfpa = "[NFPA855] ch. 15, second texts; editions and local codes differ";
constexpr std::string_view memory_terminal = "often 60 or 75 °C as printed on devices; from memory";
constexpr std::string_view assumed = "assumption to be replaced by your own";
constexpr std::string_view sheet =
    "the cell's sheet overrides; usual for large LFP cells (from memory)";

std::vector<Setting> list() {
  const auto number = [](std::string_view table, std::string_view key, std::string_view unit,
                         double min, double max, std::string_view fallback, std::string_view text,
                         std::string_view basis) {
    return Setting{table, key, Kind::number, unit, min, max, fallback, false, text, basis};
  };
  const auto must = [](Setting setting) {
    setting.required = true;
    return setting;
  };
  const auto whole = [](Setting setting) {
    setting.kind = Kind::whole;
    return setting;
  };
  const auto text = [](std::string_view table, std::string_view key, std::string_view fallback,
                       std::string_view what) {
    return Setting{table, key, Kind::text, "", 0, 0, fallback, false, what, ""};
  };
  const auto choice = [](std::string_view table, std::string_view key, std::string_view fallback,
                         std::string_view what, std::string_view basis,
                         std::vector<std::string_view> choices) {
    return Setting{table, key,   Kind::choice,      "", 0, 0, fallback, false,
                   what,  basis, std::move(choices)};
  };
  return {
      must(text("project", "name", "", "what you call the bank")),
      text("project", "currency", "EUR", "currency of all sums"),
      text("project", "place", "", "where it stands, as you want it on the emergency card"),
      text("project", "contact", "", "whom to call, as you want it on the emergency card"),
      text("project", "note", "", "anything the book should say on its first page"),

      choice("cell", "chemistry", "lfp", "chemistry", "", {"lfp"}),
      must(number("cell", "rated_capacity_Ah", "Ah", 0.1, 10000, "", "capacity the seller rates",
                  "")),
      must(number("cell", "dc_resistance_mOhm", "mΩ", 0.001, 1000, "", "DC resistance of the sheet",
                  "")),
      number("cell", "dc_resistance_time_s", "s", 0.001, 3600, "10", "seconds after the step",
             practice),
      number("cell", "ac_resistance_mOhm", "mΩ", 0.001, 1000, "", "1 kHz resistance of the sheet",
             ""),
      must(number("cell", "max_V", "V", 1, 5, "3.65", "upper limit", sheet)),
      must(number("cell", "min_V", "V", 0.5, 4, "2.5", "lower limit", sheet)),
      number("cell", "nominal_V", "V", 1, 5, "3.2", "nominal voltage", sheet),
      number("cell", "mass_kg", "kg", 0.01, 200, "", "mass of one", ""),
      number("cell", "width_mm", "mm", 1, 2000, "174", "width of the large face", assumed),
      number("cell", "height_mm", "mm", 1, 2000, "207", "height", assumed),
      number("cell", "thickness_mm", "mm", 1, 500, "54", "thickness", assumed),
      number("cell", "max_charge_rate", "1/h", 0.01, 10, "0.5",
             "charge current over capacity, at most", sheet),
      number("cell", "max_discharge_rate", "1/h", 0.01, 20, "1",
             "discharge current over capacity, at most", sheet),
      number("cell", "charge_min_C", "°C", -40, 40, "0", "no charging below", sheet),
      number("cell", "rated_cycles", "", 1, 100000, "6000", "cycles the seller rates", assumed),

      must(whole(number("layout", "packs", "", 1, 64, "1", "packs in parallel", assumed))),
      must(whole(
          number("layout", "series", "", 1, 400, "16", "groups in series in a pack", assumed))),
      must(whole(
          number("layout", "parallel", "", 1, 40, "1", "cells in parallel in a group", assumed))),
      number("layout", "link_mOhm", "mΩ", 0, 10, "0.02", "one bar between groups", practice),
      number("layout", "joint_mOhm", "mΩ", 0, 10, "0.05", "one bolted joint", practice),
      number("layout", "pack_extra_mOhm", "mΩ", 0, 100, "1.2", "BMS, fuse and shunt of a pack",
             practice),
      number("layout", "lead_mOhm", "mΩ", 0, 100, "0.5", "each pole from pack to bus or next pack",
             practice),
      choice("layout", "take_off", "diagonal", "where the bus is tapped", practice,
             {"same-end", "diagonal", "star"}),
      choice("layout", "aim", "most-energy", "what matching aims at", "",
             {"most-energy", "even-packs"}),
      whole(number("layout", "rows", "", 0, 20, "0", "rows of cells in a box; 0: the usual number",
                   "")),

      must(number("bus", "power_W", "W", 1, 1e6, "", "continuous design power at the bus", "")),
      number("bus", "surge_W", "W", 1, 1e6, "", "power for ten seconds, as when a motor starts",
             ""),

      number("bms", "cell_high_V", "V", 2, 5, "3.65", "opens above", sheet),
      number("bms", "cell_high_release_V", "V", 2, 5, "3.45", "closes again below", practice),
      number("bms", "cell_low_V", "V", 1, 4, "2.7", "opens below", practice),
      number("bms", "cell_low_release_V", "V", 1, 4, "3.0", "closes again above", practice),
      number("bms", "charge_stop_C", "°C", -40, 40, "0", "no charging below", sheet),
      number("bms", "charge_release_C", "°C", -40, 40, "5", "charging again above", practice),
      number("bms", "charge_hot_C", "°C", 0, 80, "45", "no charging above", memory),
      number("bms", "discharge_hot_C", "°C", 0, 90, "55", "no discharging above", memory),
      number("bms", "discharge_cold_C", "°C", -60, 20, "-20", "no discharging below", memory),
      number("bms", "voltage_delay_s", "s", 0, 600, "2", "before a voltage limit acts", practice),
      number("bms", "charge_max_A", "A", 0, 5000, "0", "charging current of a pack; 0: no limit",
             practice),
      number("bms", "discharge_max_A", "A", 0, 5000, "0",
             "discharging current of a pack; 0: no limit", practice),
      number("bms", "current_delay_s", "s", 0, 600, "10", "before a current limit acts", practice),
      choice("bms", "sensor_on", "not-said", "what its temperature sensors lie on", "",
             {"cell", "wall", "not-said"}),
      number("bms", "drain_mA", "mA", 0, 5000, "20", "that it and what else stays on draw",
             practice),
      number("charge", "per_cell_V", "V", 2, 5, "3.50", "bulk and absorption, a cell", practice),
      number("charge", "float_per_cell_V", "V", 2, 5, "3.36", "float, a cell", practice),
      number("charge", "recharge_per_cell_V", "V", 2, 5, "3.30", "charge again below, a cell",
             practice),
      number("charge", "tail_rate", "1/h", 0.001, 0.5, "0.04", "tail current over capacity",
             practice),
      choice("charge", "equalise", "off", "a charge far above, as lead-acid wants it", practice,
             {"off", "on"}),
      number("charge", "compensation_mV_K", "mV/K", -200, 200, "0",
             "change of the bank's voltage with temperature, as lead-acid wants it", practice),
      number("charge", "absorption_h", "h", 0, 24, "0.5", "at most at the charging voltage",
             practice),
      number("inverter", "alarm_per_cell_V", "V", 1, 4, "3.10", "low alarm, a cell", practice),
      number("inverter", "stop_per_cell_V", "V", 1, 4, "3.0", "stops below, a cell", practice),
      number("inverter", "restart_per_cell_V", "V", 1, 4, "3.20", "restarts above, a cell",
             practice),
      number("inverter", "charge_stop_per_cell_V", "V", 2, 5, "3.58",
             "stops charging above, a cell", practice),
      number("inverter", "stop_delay_s", "s", 0, 600, "5", "below its stop before it stops",
             practice),
      number("inverter", "standby_W", "W", 0, 1000, "0",
             "that it draws while its capacitors are filled", assumed),
      number("inverter", "capacitance_mF", "mF", 0.01, 1000, "",
             "capacitance at its input; without one 1.5 mF for each kW", practice),
      number("balancer", "start_V", "V", 2, 5, "3.42", "starts above", practice),
      number("balancer", "window_mV", "mV", 0, 500, "10", "works where the spread exceeds",
             practice),
      number("balancer", "current_A", "A", 0.001, 50, "0.1", "current it moves", practice),

      choice("balancer", "kind", "bleeds", "bleeds the fullest, or moves charge to the emptiest",
             practice, {"bleeds", "moves"}),
      number("balancer", "efficiency_percent", "%", 1, 100, "90", "of what is moved, what arrives",
             practice),

      choice("balancer", "works", "charging", "when it may work", practice, {"charging", "always"}),

      choice("joint", "thread", "M6", "of the cells' terminals", assumed,
             {"M4", "M5", "M6", "M8", "M10"}),
      number("joint", "bar_width_mm", "mm", 1, 200, "", "of the bars between groups", ""),
      number("joint", "bar_thickness_mm", "mm", 0.2, 50, "", "thickness of those bars", ""),
      number("joint", "bolt_mm", "mm", 1, 100, "", "length of the bolt below its head", ""),
      number("joint", "stack_mm", "mm", 0.1, 80, "", "bars, lugs and washers under its head", ""),
      number("joint", "depth_mm", "mm", 1, 80, "", "depth of the thread in the terminal", ""),
      number("joint", "torque_Nm", "N·m", 0.1, 100, "", "of the cell's sheet", ""),

      number("wiring", "length_m", "m", 0.1, 100, "2", "bank to inverter, one way", assumed),
      number("wiring", "lead_length_m", "m", 0.05, 20, "0.5", "pack to bus, one way", assumed),
      number("wiring", "lead_area_mm2", "mm²", 1.5, 240, "",
             "section of the packs' leads; without one the smallest that does is chosen", ""),
      number("wiring", "terminal_C", "°C", 50, 120, "75",
             "what terminals at the cables' ends may reach", memory_terminal),
      number("wiring", "area_mm2", "mm²", 1.5, 240, "",
             "section; without one the smallest that does is chosen", ""),
      choice("wiring", "insulation", "xlpe", "of the cable", assumed, {"pvc", "xlpe"}),
      choice("wiring", "method", "F", "C on a surface, F two touching in free air", assumed,
             {"C", "F"}),
      number("wiring", "ambient_C", "°C", 10, 60, "35", "air around the cable", assumed),
      whole(number("wiring", "circuits", "", 1, 9, "1", "pairs side by side", assumed)),
      choice("wiring", "grouping", "bunched", "how they lie together", assumed,
             {"bunched", "wall", "tray", "ladder"}),
      number("wiring", "pack_fuse_A", "A", 1, 2000, "", "each pack's fuse, where chosen", ""),
      number("wiring", "fuse_breaking_kA", "kA", 0.1, 500, "",
             "what the pack's fuse breaks on direct current", ""),
      number("wiring", "precharge_Ohm", "Ω", 0.1, 10000, "25", "precharge resistor", practice),

      number("tester", "gain_percent", "%", 0, 20, "0.5", "half-width of the current's gain",
             assumed),
      number("tester", "offset_A", "A", 0, 100, "0.05", "half-width of the current's offset",
             assumed),
      number("tester", "clock_ppm", "ppm", 0, 1e5, "100", "half-width of the clock's rate",
             assumed),
      number("tester", "temperature_halfwidth_K", "K", 0, 30, "3",
             "how well the cell's temperature is known", assumed),
      number("tester", "cutoff_mV", "mV", 0, 500, "10", "half-width of the cut-off voltage",
             assumed),
      number("tester", "voltage_gain_percent", "%", 0, 20, "0.2",
             "half-width of the voltage's gain", assumed),
      number("tester", "repeatability_percent", "%", 0, 20, "0.14",
             "standard deviation of one test repeated", "[Tao2024] 56 cells tested twice"),
      number("tester", "room_halfwidth_K", "K", 0, 30, "8",
             "how well the room is known where a log has no temperature", assumed),
      whole(number("tester", "wires", "", 2, 4, "",
                   "2: voltage is read over the current's leads; 4: on the terminals", "")),
      number("tester", "lead_mm2", "mm²", 0.1, 300, "", "section of a tester's lead", ""),
      number("tester", "lead_length_m", "m", 0.01, 20, "", "length of one lead", ""),
      number("tester", "contact_mOhm", "mΩ", 0, 100, "0.2", "both clips of the leads together",
             practice),
      number("tester", "lead_percent", "%", 0, 100, "20", "half-width of the leads' resistance",
             assumed),
      text("tester", "trusted_channel", "",
           "channel that is taken as right; none: the mean of all (see channels.csv)"),
      number("test", "reference_C", "°C", 0, 45, "25", "temperature that capacities are brought to",
             "[IEC62620] 6.3"),
      number("test", "reference_rate", "1/h", 0.02, 2, "0.2",
             "discharge current over capacity that they are brought to", "[IEC62620] 6.3"),
      number("test", "max_dc_resistance_mOhm", "mΩ", 0.001, 1000, "",
             "limit for direct-current resistance", ""),
      number("test", "max_ac_resistance_mOhm", "mΩ", 0.001, 1000, "", "limit for 1 kHz resistance",
             ""),
      number("test", "max_leak_mA", "mA", 0.001, 1e5, "", "limit for self-discharge", ""),
      number("test", "min_arrival_V", "V", 0.5, 4, "", "limit for the voltage at arrival", ""),
      number("test", "min_mass_kg", "kg", 0.01, 200, "", "limit for the mass", ""),
      number("test", "max_thickness_mm", "mm", 1, 500, "", "limit for the thickness", ""),
      number("test", "ac_meter_percent", "%", 0, 50, "2", "half-width of the 1 kHz meter's gain",
             assumed),
      number("test", "limit_percent", "%", 10, 150, "100", "least capacity, of rated", assumed),
      number("test", "risk_percent", "%", 0.01, 49, "5", "risk of a wrong verdict", practice),

      text("match", "fixed", "", "cells that must stand somewhere: \"C01@A, C02@B-03\""),
      text("match", "kept_out", "", "cells that are not placed and are no spares: \"C05, C09\""),
      text("match", "place_least_Ah", "",
           "least capacity of the cells in some places: \"A 228, B-03 230\""),
      text("match", "later_aims", "resistance, leak, charge-top",
           "what comes after the first aim, the most wanted first"),
      number("match", "least_capacity_Ah", "Ah", 0.1, 10000, "", "of a cell that is placed", ""),
      whole(number("match", "spares", "", 0, 1000, "0", "cells that must stay as spares", assumed)),
      number("match", "spare_capacity_Ah", "Ah", 0.1, 10000, "", "that each of those must hold",
             ""),
      choice("match", "lots", "free", "whether lots are kept together or apart", practice,
             {"free", "together-in-pack", "apart-in-group"}),
      choice("match", "lot_is", "seller-lot", "what counts as a lot in that rule", practice,
             {"seller-lot", "test-channel", "date-made"}),
      number("match", "resistance_may_cost_percent", "%", 0, 5, "0",
             "of the first aim, for even resistance inside groups", assumed),
      number("match", "leak_may_cost_percent", "%", 0, 5, "0",
             "of the first aim, for even self-discharge inside packs", assumed),
      number("match", "charge_top_may_cost_percent", "%", 0, 5, "0",
             "of the first aim, so that a pack's cells reach full alike", assumed),
      number("match", "design_C", "°C", -20, 45, "20",
             "cell temperature at which cells are compared for their places", assumed),

      text("queue", "testers", "",
           "charge and discharge current of each tester, A: \"50/50, 20/40\"; none: one at the "
           "reference rate"),
      number("queue", "rest_h", "h", 0, 48, "1", "rest after charging, before discharging",
             practice),
      number("queue", "handling_h", "h", 0, 8, "0.5", "to change cells", assumed),
      number("queue", "arrival_charge", "", 0, 1, "0.3", "state of charge of cells as they arrive",
             practice),
      number("queue", "storage_charge", "", 0, 1, "0.5", "state of charge that they are left at",
             practice),
      number("queue", "from_h", "h", 0, 23, "8", "hour from which somebody is there", assumed),
      number("queue", "to_h", "h", 1, 24, "22", "hour until which somebody is there", assumed),
      choice("queue", "unattended", "no", "may current flow while nobody is there", practice,
             {"yes", "no"}),
      choice("queue", "pass_on", "no", "a cell being discharged charges the next one", assumed,
             {"yes", "no"}),

      number("order", "reject_percent", "%", 0, 90, "3", "chance that a cell is not good enough",
             assumed),
      number("order", "confidence_percent", "%", 1, 99.99, "95", "odds you want of having enough",
             practice),

      choice("place", "kind", "not-said", "where the bank stands", "",
             {"garage", "outbuilding", "outdoors", "utility-room", "living-space", "bedroom",
              "loft", "escape-route", "not-said"}),
      number("place", "box_kg", "kg", 0, 1000, "15", "a pack's box, bars and BMS", assumed),
      number("place", "floor_allows_kN_m2", "kN/m²", 0.5, 100, "", "what its floor may carry", ""),
      number("place", "clearance_m", "m", 0, 20, "", "free between packs, and to doors and windows",
             ""),
      choice("place", "detector", "not-said", "a smoke or heat alarm above it", "",
             {"yes", "no", "not-said"}),
      choice("place", "backing", "not-said", "what stands behind and below it", "",
             {"incombustible", "combustible", "not-said"}),

      number("rules", "unit_kWh", "kWh", 0.1, 10000, "20", "energy of one pack, at most", nfpa),
      number("rules", "garage_kWh", "kWh", 0.1, 10000, "80",
             "energy in a garage, an outbuilding or outdoors, at most", nfpa),
      number("rules", "indoors_kWh", "kWh", 0.1, 10000, "40", "energy in a utility room, at most",
             nfpa),
      number("rules", "clearance_m", "m", 0, 20, "0.9", "between units and to doors, at least",
             nfpa),
      number("rules", "lift_kg", "kg", 1, 200, "25", "that one person lifts, at most",
             "guidance figure of [HSE-L23] for ideal posture"),
      number("rules", "floor_kN_m2", "kN/m²", 0.5, 100, "2",
             "a floor carries this where nothing else is known",
             "[EN1991-1-1] category A, 1.5 to 2.0, from memory"),
      text("rules", "edition", "", "which code, edition and date these were compared with"),

      number("storage", "charge", "", 0.05, 1, "0.5", "state of charge through a lay-up", practice),
      number("storage", "least_charge", "", 0, 0.9, "0.2", "at which it must be charged again",
             practice),
      number("storage", "leak_percent_month", "%", 0, 20, "2", "self-discharge a month", practice),
      text("storage", "since", "", "day from which it, or the spares, are stored: 2026-11-01"),

      number("use", "cycles_per_year", "", 1, 2000, "200", "equivalent full cycles a year",
             "a home with solar does some 200 (docs/models/life.md)"),
      number("use", "depth", "", 0.05, 1, "0.8", "usual depth of a cycle", practice),
      number("use", "mean_charge", "", 0, 1, "0.55", "mean state of charge", practice),
      number("use", "temperature_C", "°C", -20, 60, "20", "mean cell temperature over the year",
             assumed),
      number("use", "c_rate", "1/h", 0.01, 5, "0.2", "usual rate", practice),
      number("use", "end_percent", "%", 30, 99, "70",
             "capacity at which the bank is called too small", practice),
      whole(number("use", "years", "", 1, 50, "20", "years to look ahead", practice)),
      number("use", "energy_price", "", 0, 100, "0.08", "price of a kWh charged", assumed),
      number("use", "rate_percent", "%", -10, 50, "3", "real yearly rate", assumed),
      number("use", "upkeep_per_year", "", 0, 1e6, "0", "upkeep a year", assumed),
      number("use", "round_trip_percent", "%", 10, 100, "90",
             "energy out over energy in, at the house", practice),
      number("use", "other_capital", "", 0, 1e8, "0",
             "boxes, BMS, fuses, cable: what the bank costs beside its cells", assumed),

      number("site", "latitude_deg", "°", -90, 90, "", "latitude", ""),
      number("site", "longitude_deg", "°", -180, 180, "", "longitude, east positive", ""),
      number("site", "annual_kWh", "kWh", 1, 1e6, "", "what the house uses in a year", ""),
      number("site", "solar_kW", "kW", 0, 1e4, "", "solar peak power", ""),
      number("site", "tilt_deg", "°", 0, 90, "35", "tilt of the panels", assumed),
      number("site", "azimuth_deg", "°", 0, 360, "180", "where the panels face, from north",
             assumed),
      number("site", "outage_hours", "h", 0, 1000, "", "how long an outage must be carried", ""),
      number("site", "outage_W", "W", 0, 1e6, "", "power that must be carried through it", ""),
  };
}

}  // namespace

const std::vector<Setting>& settings() {
  static const std::vector<Setting> all = list();
  return all;
}

const Setting* find_setting(std::string_view table, std::string_view key) {
  for (const Setting& setting : settings())
    if (setting.table == table && setting.key == key) return &setting;
  return nullptr;
}

}  // namespace works
