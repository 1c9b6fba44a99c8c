// SPDX-License-Identifier: Apache-2.0
#include "works/project.hpp"

#include <cmath>
#include <set>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "logs/header.hpp"
#include "wiring/conductor.hpp"
#include "works/settings.hpp"
#include "works/steps.hpp"

namespace works {
namespace {

namespace units = base::units;
using base::InputError;

std::string path(std::string_view table, std::string_view key) {
  return fmt::format("{}.{}", table, key);
}

const Setting& setting_of(std::string_view table, std::string_view key) {
  const Setting* setting = find_setting(table, key);
  CHECK(setting != nullptr, path(table, key));
  return *setting;
}

std::string keys_of(std::string_view table) {
  std::string keys;
  for (const Setting& s : settings())
    if (s.table == table) keys += fmt::format("{}{}", keys.empty() ? "" : ", ", s.key);
  return keys;
}

}  // namespace

std::optional<double> Project::maybe(std::string_view table, std::string_view key) const {
  const Setting& setting = setting_of(table, key);
  if (const auto found = given.find(path(table, key)); found != given.end())
    return std::get<double>(found->second);
  if (setting.fallback.empty()) return std::nullopt;
  return base::parse_number(setting.fallback);
}

double Project::number(std::string_view table, std::string_view key) const {
  const auto value = maybe(table, key);
  CHECK(value.has_value(), path(table, key));
  return *value;
}

std::string Project::text(std::string_view table, std::string_view key) const {
  const Setting& setting = setting_of(table, key);
  if (const auto found = given.find(path(table, key)); found != given.end())
    return std::get<std::string>(found->second);
  return std::string(setting.fallback);
}

bool Project::was_given(std::string_view table, std::string_view key) const {
  return given.find(path(table, key)) != given.end();
}

std::string photo_name(std::string_view label, int number, std::string_view ending) {
  std::string name;
  for (const char c : label) {
    const auto u = static_cast<unsigned char>(c);
    const bool plain =
        u > 0x20 && u != 0x7f && std::string_view("/\\:%~.").find(c) == std::string_view::npos;
    name += plain ? std::string(1, c) : fmt::format("%{:02X}", u);
  }
  return fmt::format("{}~{}.{}", name, number, ending);
}

std::string photo_label(std::string_view file_name) {
  const std::size_t end = file_name.find('~');
  if (end == std::string_view::npos) return "";
  std::string label;
  for (std::size_t i = 0; i < end; ++i) {
    if (file_name[i] != '%') {
      label += file_name[i];
      continue;
    }
    const auto digit = [&](std::size_t k) {
      constexpr std::string_view digits = "0123456789ABCDEF";
      return k < end ? digits.find(file_name[k]) : std::string_view::npos;
    };
    const std::size_t high = digit(i + 1), low = digit(i + 2);
    if (high == std::string_view::npos || low == std::string_view::npos) return "";
    label += static_cast<char>(high * 16 + low);
    i += 2;
  }
  return label;
}

Project::Value checked(std::string_view table, std::string_view key, const Project::Value& value) {
  const Setting* setting = find_setting(table, key);
  if (setting == nullptr) {
    const std::string keys = keys_of(table);
    throw InputError(
        {}, fmt::format("the key '{}' in [{}]", key, table),
        keys.empty() ? "a table that Packhouse knows" : fmt::format("one of: {}", keys),
        "check the spelling, or take the line out");
  }
  const bool numeric =
      setting->kind == Setting::Kind::number || setting->kind == Setting::Kind::whole;
  if (numeric) {
    const double* number = std::get_if<double>(&value);
    const bool whole = number != nullptr &&
                       (setting->kind != Setting::Kind::whole || *number == std::floor(*number));
    if (number == nullptr || !whole || !(*number >= setting->min && *number <= setting->max))
      throw InputError(
          {},
          fmt::format(
              "{} = {}", path(table, key),
              number ? fmt::format("{:g}", *number) : "\"" + std::get<std::string>(value) + "\""),
          fmt::format("{}: a {}number from {:g} to {:g}{}{}", setting->text,
                      setting->kind == Setting::Kind::whole ? "whole " : "", setting->min,
                      setting->max, setting->unit.empty() ? "" : " ", setting->unit),
          "give a value within the range, without quotes");
    return value;
  }
  const std::string* text = std::get_if<std::string>(&value);
  if (text == nullptr)
    throw InputError({}, fmt::format("{} = {:g}", path(table, key), std::get<double>(value)),
                     fmt::format("{}: a text", setting->text), "put it in quotes");
  if (setting->kind == Setting::Kind::choice) {
    std::string choices;
    for (const std::string_view c : setting->choices) {
      if (c == *text) return value;
      choices += fmt::format("{}{}", choices.empty() ? "" : ", ", c);
    }
    throw InputError({}, fmt::format("{} = \"{}\"", path(table, key), *text),
                     fmt::format("{}: one of {}", setting->text, choices), "take one of these");
  }
  if (text->size() > 20000)
    throw InputError({}, fmt::format("{} with {} bytes", path(table, key), text->size()),
                     "at most 20000 bytes", "shorten the text");
  return value;
}

void check(const Project& project) {
  for (const Setting& s : settings())
    if (s.required && s.fallback.empty() && !project.was_given(s.table, s.key))
      throw InputError({}, fmt::format("no {} in [{}]", s.key, s.table),
                       fmt::format("{}: {}", s.key, s.text),
                       fmt::format("add a line under [{}]: {} = …", s.table, s.key));
  if (project.number("cell", "min_V") >= project.number("cell", "max_V"))
    throw InputError({}, "cell.min_V not below cell.max_V", "the lower limit below the upper one",
                     "take both from the cell's sheet");
  if (const auto area = project.maybe("wiring", "area_mm2")) {
    std::string sections;
    bool known = false;
    for (const double s : wiring::ampacity_sections_mm2(wiring::Method::c)) {
      known = known || s == *area;
      sections += fmt::format("{}{:g}", sections.empty() ? "" : ", ", s);
    }
    if (!known)
      throw InputError({}, fmt::format("wiring.area_mm2 = {:g}", *area),
                       fmt::format("a standard section: {} mm2", sections),
                       "take the section that is printed on the cable");
  }
  const double bus_A =
      project.number("bus", "power_W") /
      (project.number("inverter", "stop_per_cell_V") * project.number("layout", "series"));
  if (bus_A > 5000.0)
    throw InputError({},
                     fmt::format("bus.power_W = {:g}, which is {:.0f} A at the inverter's stop",
                                 project.number("bus", "power_W"), bus_A),
                     "at most 5000 A at the bus", "less power, or more groups in series");
  std::set<std::string_view> labels;
  for (const Cell& c : project.cells) {
    if (c.label.empty())
      throw InputError({}, "a cell without a label", "a label for every cell",
                       "give each cell a label of its own");
    if (c.label.size() > 200)
      throw InputError({}, fmt::format("a label of {} bytes", c.label.size()), "at most 200 bytes",
                       "shorten the label");
    if (!labels.insert(c.label).second)
      throw InputError({}, fmt::format("two cells labelled '{}'", c.label), "every label once",
                       "give one of the two another label");
  }
  (void)read_options(project);
  const layout::Layout shape = layout_of(project);
  const std::vector<wiring::Run> runs = steps::runs_of(project);
  if (const File* f = steps::series_file(project, "devices.csv"))
    (void)wiring::read_devices(f->bytes, runs);
  if (const File* f = steps::series_file(project, "joints.csv"))
    (void)wiring::read_joints(f->bytes, shape);
  if (const File* f = steps::series_file(project, "sense.csv"))
    (void)commission::read_sense(f->bytes, shape.packs, shape.series);
  std::set<std::string_view> names;
  for (const File& f : project.photos)
    if (photo_label(f.name).empty())
      throw InputError({}, fmt::format("a photo named '{}'", f.name),
                       "the cell's label, ~, a number", "name it for example C07~1.jpg");
  for (const std::vector<File>* files : {&project.logs, &project.series, &project.photos})
    for (const File& f : *files)
      if (!names.insert(f.name).second)
        throw InputError({}, fmt::format("two files named '{}'", f.name), "every file name once",
                         "rename one of the two");
}

cell::Datasheet datasheet(const Project& p) {
  const auto length = [&](std::string_view key) { return p.number("cell", key) * units::mm; };
  cell::Datasheet d{.chemistry = p.text("cell", "chemistry"),
                    .rated_capacity = p.number("cell", "rated_capacity_Ah") * units::Ah,
                    .dc_resistance = {p.number("cell", "dc_resistance_mOhm") * units::mOhm,
                                      p.number("cell", "dc_resistance_time_s") * units::s}};
  if (const auto ac = p.maybe("cell", "ac_resistance_mOhm"))
    d.ac_resistance = cell::AcResistance{*ac * units::mOhm};
  if (const auto mass = p.maybe("cell", "mass_kg")) d.mass = *mass * units::kg;
  d.max = p.number("cell", "max_V") * units::V;
  d.min = p.number("cell", "min_V") * units::V;
  d.nominal = p.number("cell", "nominal_V") * units::V;
  d.width = length("width_mm");
  d.height = length("height_mm");
  d.thickness = length("thickness_mm");
  d.max_charge_rate = p.number("cell", "max_charge_rate");
  d.max_discharge_rate = p.number("cell", "max_discharge_rate");
  d.charge_min = base::Temperature::from_C(p.number("cell", "charge_min_C"));
  return d;
}

layout::Layout layout_of(const Project& p) {
  const auto ohms = [&](std::string_view key) { return p.number("layout", key) * units::mOhm; };
  return {.packs = static_cast<int>(p.number("layout", "packs")),
          .series = static_cast<int>(p.number("layout", "series")),
          .parallel = static_cast<int>(p.number("layout", "parallel")),
          .take_off = *layout::take_off_named(p.text("layout", "take_off")),
          .link = ohms("link_mOhm"),
          .joint = ohms("joint_mOhm"),
          .pack_extra = ohms("pack_extra_mOhm"),
          .lead = ohms("lead_mOhm")};
}

layout::Limits limits(const Project& p) {
  const auto volts = [&](std::string_view table, std::string_view key) {
    return p.number(table, key) * units::V;
  };
  layout::Limits l;
  l.bms = {.cell_high = volts("bms", "cell_high_V"),
           .cell_high_release = volts("bms", "cell_high_release_V"),
           .cell_low = volts("bms", "cell_low_V"),
           .cell_low_release = volts("bms", "cell_low_release_V"),
           .charge_stop = base::Temperature::from_C(p.number("bms", "charge_stop_C")),
           .charge_release = base::Temperature::from_C(p.number("bms", "charge_release_C")),
           .charge_hot = base::Temperature::from_C(p.number("bms", "charge_hot_C")),
           .discharge_hot = base::Temperature::from_C(p.number("bms", "discharge_hot_C")),
           .discharge_cold = base::Temperature::from_C(p.number("bms", "discharge_cold_C")),
           .voltage_delay = p.number("bms", "voltage_delay_s") * units::s,
           .charge_max = p.number("bms", "charge_max_A") * units::A,
           .discharge_max = p.number("bms", "discharge_max_A") * units::A,
           .current_delay = p.number("bms", "current_delay_s") * units::s};
  l.charger = {.per_cell = volts("charge", "per_cell_V"),
               .float_per_cell = volts("charge", "float_per_cell_V"),
               .recharge_per_cell = volts("charge", "recharge_per_cell_V"),
               .tail_rate = p.number("charge", "tail_rate")};
  l.inverter = {.alarm_per_cell = volts("inverter", "alarm_per_cell_V"),
                .stop_per_cell = volts("inverter", "stop_per_cell_V"),
                .restart_per_cell = volts("inverter", "restart_per_cell_V"),
                .charge_stop_per_cell = volts("inverter", "charge_stop_per_cell_V"),
                .stop_delay = p.number("inverter", "stop_delay_s") * units::s};
  l.balancer = {.moves = p.text("balancer", "kind") == "moves",
                .efficiency = p.number("balancer", "efficiency_percent") / 100.0,
                .start = volts("balancer", "start_V"),
                .window = p.number("balancer", "window_mV") * units::mV,
                .current = p.number("balancer", "current_A") * units::A};
  return l;
}

bench::Tester tester(const Project& p) {
  const auto of = [&](std::string_view key) { return p.number("tester", key); };
  constexpr double copper_Ohm_mm2_m = 0.0175;  // at about 25 °C; [IEC60228] class 5 conductors
  const auto mm2 = p.maybe("tester", "lead_mm2"), metres = p.maybe("tester", "lead_length_m");
  const double leads_mOhm = mm2 && metres ? 2.0 * *metres * copper_Ohm_mm2_m / *mm2 * 1e3 : 0.0;
  return {.gain_percent = of("gain_percent"),
          .offset_A = of("offset_A"),
          .clock_ppm = of("clock_ppm"),
          .temperature_halfwidth_K = of("temperature_halfwidth_K"),
          .cutoff_mV = of("cutoff_mV"),
          .voltage_gain_percent = of("voltage_gain_percent"),
          .repeatability_percent = of("repeatability_percent"),
          .room_halfwidth_K = of("room_halfwidth_K"),
          .wires = static_cast<int>(p.maybe("tester", "wires").value_or(0.0)),
          .lead_mOhm = leads_mOhm > 0.0 ? leads_mOhm + of("contact_mOhm") : 0.0,
          .lead_percent = of("lead_percent"),
          .stated = p.was_given("tester", "gain_percent")};
}

logs::ReadOptions read_options(const Project& p) {
  logs::ReadOptions options = logs::options_named(p.text("logs", "sign"), p.text("logs", "dates"),
                                                  p.text("logs", "decimal"));
  std::vector<std::string> columns;
  const std::string said = p.text("logs", "columns");
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
  return {.temperature_C = p.number("test", "reference_C"),
          .rate_per_h = p.number("test", "reference_rate"),
          .cut_off_V = p.number("cell", "min_V")};
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

}  // namespace works
