// SPDX-License-Identifier: Apache-2.0
// runs.csv and devices.csv.
#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/delimited_text.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "wiring/circuit.hpp"

namespace wiring {
namespace {

using base::CsvTable;
using base::InputError;

constexpr std::array<std::pair<std::string_view, Point>, 6> points = {
    {{"pack", Point::pack},
     {"bus", Point::bus},
     {"inverter", Point::inverter},
     {"charger", Point::charger},
     {"solar", Point::solar},
     {"earth", Point::earth}}};
constexpr std::array<std::pair<std::string_view, DeviceKind>, 10> kinds = {
    {{"fuse", DeviceKind::fuse},
     {"breaker", DeviceKind::breaker},
     {"isolator", DeviceKind::isolator},
     {"contactor", DeviceKind::contactor},
     {"precharge", DeviceKind::precharge},
     {"shunt", DeviceKind::shunt},
     {"bms", DeviceKind::bms},
     {"inverter", DeviceKind::inverter},
     {"charger", DeviceKind::charger},
     {"solar-controller", DeviceKind::solar_controller}}};
constexpr std::array<std::pair<std::string_view, Insulation>, 2> insulations = {
    {{"pvc", Insulation::pvc}, {"xlpe", Insulation::xlpe}}};
constexpr std::array<std::pair<std::string_view, Method>, 2> methods = {
    {{"C", Method::c}, {"F", Method::f}}};
constexpr std::array<std::pair<std::string_view, Grouping>, 4> groupings = {
    {{"bunched", Grouping::bunched},
     {"wall", Grouping::wall},
     {"tray", Grouping::tray},
     {"ladder", Grouping::ladder}}};

/// One of a list of words; an empty field is the usual one.
template <class T, std::size_t N>
T word(const CsvTable& table, const CsvTable::Row& row, std::string_view column_name,
       const std::array<std::pair<std::string_view, T>, N>& words, std::optional<T> usual) {
  const auto column = table.column({column_name});
  const std::string text(base::trimmed(table.text(row, column)));
  if (text.empty() && usual) return *usual;
  for (const auto& [w, value] : words)
    if (base::lower(text) == base::lower(w)) return value;
  std::string list;
  for (const auto& [w, value] : words) list += (list.empty() ? "" : ", ") + std::string(w);
  table.refuse(row, column.value_or(0), fmt::format("'{}' as {}", text, column_name),
               "one of: " + list, "take one of these words");
}

void only_known(const CsvTable& table, const std::string& file,
                std::initializer_list<std::string_view> known) {
  for (std::size_t i = 0; i < table.header().size(); ++i) {
    bool found = false;
    std::string list;
    for (const std::string_view k : known) {
      found = found || base::lower(table.header()[i]) == base::lower(k);
      list += (list.empty() ? "" : ", ") + std::string(k);
    }
    if (!found)
      throw InputError({file, 1, i + 1},
                       fmt::format("the column '{}'", base::to_utf8(table.header()[i])),
                       "one of: " + list, "rename or take out the column");
  }
}

/// A number within limits, or nothing where the field is empty.
std::optional<double> within(const CsvTable& table, const CsvTable::Row& row,
                             std::string_view column_name, double low, double high,
                             std::string_view unit) {
  const auto column = table.column({column_name});
  const auto value = table.number(row, column);
  if (value && !(*value >= low && *value <= high))
    table.refuse(row, *column, fmt::format("{:g} as {}", *value, column_name),
                 fmt::format("{:g} to {:g} {}", low, high, unit), "correct the value or its unit");
  return value;
}

std::string name_in(const CsvTable& table, const CsvTable::Row& row, std::size_t column,
                    std::string_view what) {
  std::string text(base::trimmed(table.text(row, column)));
  if (text.empty())
    table.refuse(row, column, fmt::format("a {} without a name", what), "a name of its own",
                 "write for example: " + std::string(what == "run" ? "main" : "pack fuse"));
  return text;
}

}  // namespace

std::string_view name(Point point) {
  for (const auto& [w, p] : points)
    if (p == point) return w;
  return "";
}
std::string_view name(DeviceKind kind) {
  for (const auto& [w, k] : kinds)
    if (k == kind) return w;
  return "";
}

std::vector<Run> read_runs(std::string_view bytes, const Run& usual) {
  const std::string file = "runs.csv";
  const CsvTable table(bytes, file);
  only_known(table, file,
             {"run", "from", "to", "length_m", "area_mm2", "awg", "class", "insulation", "method",
              "ambient_C", "circuits", "grouping", "terminal_C", "current_A", "surge_A"});
  const std::size_t named = table.must_have({"run"}), length = table.must_have({"length_m"});
  (void)table.must_have({"from"});
  (void)table.must_have({"to"});
  std::vector<Run> runs;
  for (const CsvTable::Row& row : table.rows()) {
    Run run = usual;
    run.name = name_in(table, row, named, "run");
    for (const Run& other : runs)
      if (other.name == run.name)
        table.refuse(row, named, fmt::format("two runs named '{}'", run.name), "every name once",
                     "rename one of the two");
    run.from = word<Point>(table, row, "from", points, std::nullopt);
    run.to = word<Point>(table, row, "to", points, std::nullopt);
    const bool fits = (run.from == Point::pack && run.to == Point::bus) ||
                      (run.from == Point::bus && run.to != Point::pack && run.to != Point::bus);
    if (!fits)
      table.refuse(row, named, fmt::format("a run from {} to {}", name(run.from), name(run.to)),
                   "from pack to bus, or from bus to inverter, charger, solar or earth",
                   "name the ends in that order");
    const auto metres = within(table, row, "length_m", 0.0, 500.0, "m");
    if (!metres || !(*metres > 0.0))
      table.refuse(row, length, metres ? "a length of 0" : "no length", "metres, one way, above 0",
                   "measure along the way the cable lies");
    run.length_m = *metres;
    run.insulation = word<Insulation>(table, row, "insulation", insulations, usual.insulation);
    run.method = word<Method>(table, row, "method", methods, usual.method);
    run.grouping = word<Grouping>(table, row, "grouping", groupings, usual.grouping);
    run.ambient_C = within(table, row, "ambient_C", 10, 60, "°C").value_or(usual.ambient_C);
    run.terminal_C = within(table, row, "terminal_C", 50, 120, "°C").value_or(usual.terminal_C);
    const double circuits = within(table, row, "circuits", 1, 9, "pairs").value_or(usual.circuits);
    if (circuits != std::floor(circuits))
      table.refuse(row, *table.column({"circuits"}), fmt::format("{:g} pairs", circuits),
                   "a whole number from 1 to 9", "count the pairs that lie side by side");
    run.circuits = int(circuits);
    const double cls = within(table, row, "class", 2, 5, "").value_or(usual.conductor_class);
    if (cls != 2.0 && cls != 5.0)
      table.refuse(row, *table.column({"class"}), fmt::format("class {:g}", cls),
                   "2 (stranded) or 5 (flexible)", "see what is printed on the cable");
    run.conductor_class = int(cls);
    run.current_A = within(table, row, "current_A", 0.01, 5000, "A");
    run.surge_A = within(table, row, "surge_A", 0.01, 20000, "A");
    run.area_mm2 = within(table, row, "area_mm2", 0.1, 1000, "mm²");
    run.awg = base::trimmed(table.text(row, table.column({"awg"})));
    const std::size_t section = table.column({"area_mm2"}).value_or(0);
    if (!run.awg.empty()) {
      const auto gauge = gauge_area(run.awg);
      if (!gauge)
        table.refuse(row, *table.column({"awg"}), fmt::format("'{}' as a gauge", run.awg),
                     "4/0, 3/0, 2/0, 1/0 or a number from 0 to 40", "write the gauge as printed");
      const double mm2 = gauge->in(base::units::mm2);
      if (run.area_mm2 && std::abs(*run.area_mm2 / mm2 - 1.0) > 0.03)
        table.refuse(row, section,
                     fmt::format("{:g} mm² beside gauge {}, which is {:.1f} mm²", *run.area_mm2,
                                 run.awg, mm2),
                     "one of the two, or two that agree",
                     "see what is printed on the cable, and leave the other empty");
      run.area_mm2 = mm2;
    } else if (run.area_mm2) {
      const auto sections = ampacity_sections_mm2(Method::c);
      if (std::find(sections.begin(), sections.end(), *run.area_mm2) == sections.end()) {
        std::string list;
        for (const double s : sections) list += fmt::format("{}{:g}", list.empty() ? "" : ", ", s);
        table.refuse(row, section, fmt::format("{:g} mm²", *run.area_mm2),
                     "a standard section: " + list + " mm²",
                     "take the section that is printed on the cable");
      }
    }
    runs.push_back(std::move(run));
  }
  return runs;
}

std::vector<Device> read_devices(std::string_view bytes, const std::vector<Run>& runs) {
  const std::string file = "devices.csv";
  const CsvTable table(bytes, file);
  only_known(
      table, file,
      {"device", "kind", "at", "rated_A", "rated_V_dc", "breaking_kA_dc", "curve", "polarised"});
  const std::size_t named = table.must_have({"device"}), place = table.must_have({"at"});
  (void)table.must_have({"kind"});
  std::vector<Device> devices;
  for (const CsvTable::Row& row : table.rows()) {
    Device d;
    d.name = name_in(table, row, named, "device");
    for (const Device& other : devices)
      if (other.name == d.name)
        table.refuse(row, named, fmt::format("two devices named '{}'", d.name), "every name once",
                     "rename one of the two");
    d.kind = word<DeviceKind>(table, row, "kind", kinds, std::nullopt);
    d.at = base::trimmed(table.text(row, place));
    std::string list;
    bool known = false;
    for (const Run& r : runs) {
      known = known || r.name == d.at;
      list += (list.empty() ? "" : ", ") + r.name;
    }
    if (!known)
      table.refuse(row, place, fmt::format("'{}' as its run", d.at), "one of the runs: " + list,
                   "say in which run it stands");
    d.rated_A = within(table, row, "rated_A", 0.01, 10000, "A");
    d.rated_V = within(table, row, "rated_V_dc", 1, 2000, "V, as printed for direct current");
    d.breaking_kA =
        within(table, row, "breaking_kA_dc", 0.01, 500, "kA, as printed for direct current");
    d.curve = fuse_curve_named(base::trimmed(table.text(row, table.column({"curve"}))));
    if (d.kind != DeviceKind::fuse && d.curve == FuseCurve::gg)
      table.refuse(row, *table.column({"curve"}), fmt::format("gG for a {}", name(d.kind)),
                   "gG for fuses only", "leave it out; no breaker opens as a gG fuse does");
    constexpr std::array<std::pair<std::string_view, bool>, 2> yes_no = {
        {{"yes", true}, {"no", false}}};
    if (!base::trimmed(table.text(row, table.column({"polarised"}))).empty())
      d.polarised = word<bool>(table, row, "polarised", yes_no, std::nullopt);
    devices.push_back(std::move(d));
  }
  return devices;
}

std::string write_runs(const std::vector<Run>& runs) {
  const auto one_of = [](const auto& words, auto value) {
    for (const auto& [w, v] : words)
      if (v == value) return std::string(w);
    return std::string();
  };
  const auto maybe = [](const std::optional<double>& x) {
    return x ? fmt::format("{}", *x) : std::string();
  };
  std::string text =
      "run,from,to,length_m,area_mm2,awg,class,insulation,method,ambient_C,circuits,grouping,"
      "terminal_C,current_A,surge_A\n";
  for (const Run& r : runs)
    text += fmt::format(
        "{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\n", base::csv_field(r.name), name(r.from),
        name(r.to), r.length_m, r.awg.empty() ? maybe(r.area_mm2) : "", base::csv_field(r.awg),
        r.conductor_class, one_of(insulations, r.insulation), one_of(methods, r.method),
        r.ambient_C, r.circuits, one_of(groupings, r.grouping), r.terminal_C, maybe(r.current_A),
        maybe(r.surge_A));
  return text;
}

std::string write_devices(const std::vector<Device>& devices) {
  const auto maybe = [](const std::optional<double>& x) {
    return x ? fmt::format("{}", *x) : std::string();
  };
  std::string text = "device,kind,at,rated_A,rated_V_dc,breaking_kA_dc,curve,polarised\n";
  for (const Device& d : devices)
    text += fmt::format("{},{},{},{},{},{},{},{}\n", base::csv_field(d.name), name(d.kind),
                        base::csv_field(d.at), maybe(d.rated_A), maybe(d.rated_V),
                        maybe(d.breaking_kA), d.curve == FuseCurve::gg ? "gG" : "",
                        !d.polarised   ? ""
                        : *d.polarised ? "yes"
                                       : "no");
  return text;
}

}  // namespace wiring
