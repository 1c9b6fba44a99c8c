// SPDX-License-Identifier: Apache-2.0
#include "wiring/joints.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/figure.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"

namespace wiring {
namespace {

namespace units = base::units;
using findings::Severity;

constexpr double suspect_mV = 20.0;       // at rated current; a maker's rule of acceptance
constexpr double defective_uOhm = 500.0;  // common practice, no source
constexpr double over_typical = 1.5, over_median = 1.25;
constexpr double nut_factor = 0.2, nut_scatter = 0.3;  // [Shigley2011]

}  // namespace

std::vector<std::string> joint_names(const layout::Layout& l) {
  std::vector<std::string> names;
  for (int k = 0; k < l.packs; ++k) {
    const std::string pack = layout::pack_name(k);
    names.push_back(pack + "-minus");
    for (int g = 1; g < l.series; ++g)
      names.push_back(fmt::format("{}-{:02}/{:02}", pack, g, g + 1));
    names.push_back(pack + "-plus");
  }
  return names;
}

std::vector<JointReading> read_joints(std::string_view bytes, const layout::Layout& l) {
  const base::CsvTable table(bytes, "joints.csv");
  const std::size_t joint = table.must_have({"joint"}), current = table.must_have({"current_A"}),
                    drop = table.must_have({"mV"});
  const std::vector<std::string> names = joint_names(l);
  std::vector<JointReading> readings;
  for (const auto& row : table.rows()) {
    JointReading r;
    r.joint = base::trimmed(table.text(row, joint));
    if (std::find(names.begin(), names.end(), r.joint) == names.end())
      table.refuse(row, joint, fmt::format("the joint '{}'", r.joint),
                   fmt::format("{}, {} … {}", names[0], names[1], names.back()),
                   "name the link by its two groups, or the pack's minus or plus");
    for (const JointReading& other : readings)
      if (other.joint == r.joint)
        table.refuse(row, joint, fmt::format("'{}' a second time", r.joint), "every joint once",
                     "keep the reading that holds");
    const auto A = table.number(row, current), mV = table.number(row, drop);
    if (!A || std::abs(*A) < 0.1)
      table.refuse(row, current, A ? fmt::format("{:g} A", *A) : "no current",
                   "the current that flowed, 0.1 A or more",
                   "measure under load; at rest a joint shows nothing");
    if (!mV)
      table.refuse(row, drop, "no millivolts", "the reading, with its sign",
                   "fill it in, or take the row out");
    if (*mV == 0.0)
      table.refuse(row, drop, fmt::format("0 mV at {:g} A", *A), "a reading above zero",
                   "measure on the millivolt range; every joint shows something");
    if (*mV * *A < 0.0)
      table.refuse(row, drop, fmt::format("{:g} mV at {:g} A", *mV, *A), "both with the same sign",
                   "see which way round the meter's leads lay");
    r.current_A = std::abs(*A);
    r.mV = std::abs(*mV);
    readings.push_back(std::move(r));
  }
  return readings;
}

JointMap joint_map(const layout::Layout& l, int rows, const std::vector<JointReading>& readings,
                   base::Amps pack_design) {
  JointMap map;
  std::map<std::string, double> measured;
  for (const JointReading& r : readings) measured[r.joint] = r.mV / r.current_A * 1e3;
  const double lug_uOhm = l.joint.in(units::mOhm)*1e3,
               link_uOhm = (l.link + l.joint * 2.0).in(units::mOhm)*1e3;
  const int per_row = std::max(1, l.series / std::max(1, rows));
  std::map<int, std::vector<std::size_t>> alike;  // lugs, links, links where the row turns
  for (const std::string& name : joint_names(l)) {
    const bool lug = name.ends_with("minus") || name.ends_with("plus");
    int kind = 0;
    if (!lug) {
      const int from = std::stoi(name.substr(name.find('-') + 1, 4));
      kind = from % per_row == 0 ? 2 : 1;
    }
    Joint j;
    j.name = name;
    for (int k = 0; k < l.packs; ++k)
      if (name.starts_with(layout::pack_name(k) + "-")) j.pack = k;
    j.expected_uOhm = lug ? lug_uOhm : link_uOhm;
    if (const auto found = measured.find(name); found != measured.end()) {
      j.measured_uOhm = found->second;
      alike[kind].push_back(map.joints.size());
      ++map.measured;
    }
    const double ohm = j.measured_uOhm.value_or(j.expected_uOhm) * 1e-6;
    j.drop_mV = ohm * pack_design.si() * 1e3;
    j.heat_W = ohm * pack_design.si() * pack_design.si();
    map.joints.push_back(std::move(j));
  }
  for (const auto& [kind, which] : alike) {
    if (which.size() < 3) continue;
    std::vector<double> values;
    for (const std::size_t i : which) values.push_back(*map.joints[i].measured_uOhm);
    const double median = base::median(values),
                 lowest = *std::min_element(values.begin(), values.end());
    const base::OutlierTest test = base::modified_z(values, base::Side::max);
    for (std::size_t k = 0; k < which.size(); ++k) {
      Joint& j = map.joints[which[k]];
      const bool far =
          std::find(test.outliers.begin(), test.outliers.end(), k) != test.outliers.end();
      j.stands_out = (far && values[k] > over_median * median) || values[k] > over_typical * median;
      if (!j.stands_out) continue;
      map.findings.push_back(
          {.id = findings::Id::joint_stands_out,
           .severity = j.drop_mV > suspect_mV || values[k] > defective_uOhm ? Severity::stop
                                                                            : Severity::caution,
           .what = fmt::format("The joint {} resists more than its like.", j.name),
           .where = j.name,
           .measured =
               fmt::format("{} µΩ: {:.1f} mV and {:.1f} W at {:.0f} A",
                           base::significant(values[k], 2), j.drop_mV, j.heat_W, pack_design.si()),
           .limit = fmt::format("{} µΩ, half above the median; lowest {} µΩ",
                                base::significant(over_typical * median, 2),
                                base::significant(lowest, 2)),
           .why = "A loose or dirty joint heats, loosens further, and is taken for a bad cell.",
           .remedy =
               "Isolate, take it apart, clean, abrade, put no washer between, torque, measure "
               "again.",
           .basis =
               "[NIST-EDA] 1.3.5.17, modified z-score above 3.5; a half as in [NETA-ATS], here "
               "of the median, since sound joints on cells scatter by a third",
           .pack = j.pack});
    }
  }
  for (const Joint& j : map.joints)
    if (j.measured_uOhm && !j.stands_out && j.drop_mV > suspect_mV)
      map.findings.push_back(
          {.id = findings::Id::joint_drops_too_much,
           .severity = *j.measured_uOhm > defective_uOhm || j.heat_W > 5.0 ? Severity::stop
                                                                           : Severity::caution,
           .what = fmt::format("The joint {} drops more than a joint may.", j.name),
           .where = j.name,
           .measured = fmt::format("{:.0f} mV at {:.0f} A", j.drop_mV, pack_design.si()),
           .limit = fmt::format("{:.0f} mV", suspect_mV),
           .why = "It is heat where the cell is, and sag that is taken for the cell's.",
           .remedy = "Clean and torque all of them alike, or thicker bars.",
           .basis = "common practice, no source",
           .pack = j.pack});
  return map;
}

std::optional<double> thread_named(std::string_view word) {
  if (word.size() < 2 || word.front() != 'M') return std::nullopt;
  return base::parse_number(word.substr(1));
}

BoltResult check_bolt(const Bolt& b) {
  BoltResult r;
  const auto found = [&](findings::Id id, Severity severity, std::string what, std::string measured,
                         std::string limit, std::string why, std::string remedy) {
    r.findings.push_back({.id = id,
                          .severity = severity,
                          .what = std::move(what),
                          .where = "[joint]",
                          .measured = std::move(measured),
                          .limit = std::move(limit),
                          .why = std::move(why),
                          .remedy = std::move(remedy),
                          .basis = "common practice, no source; the cell's sheet overrides"});
  };
  if (b.length_mm && b.stack_mm) {
    const double e = *b.length_mm - *b.stack_mm, wanted = 1.5 * b.diameter_mm;
    r.engagement_mm = e;
    if (e <= 0.0)
      found(findings::Id::bolt_too_short, Severity::stop, "The bolt does not reach the thread.",
            fmt::format("{:g} mm bolt, {:g} mm stack", *b.length_mm, *b.stack_mm), "",
            "Nothing holds the bar.", "A longer bolt.");
    else if (b.depth_mm && e > *b.depth_mm)
      found(findings::Id::bolt_bottoms_out, Severity::stop,
            "The bolt meets the ground of its hole before it clamps.",
            fmt::format("{:.1f} mm of thread", e), fmt::format("{:g} mm deep", *b.depth_mm),
            "The torque goes into the terminal, the bar stays loose, and the cell may be torn.",
            "A shorter bolt.");
    else if (e < wanted && !(b.depth_mm && *b.depth_mm < wanted && e > *b.depth_mm - 1.0))
      found(findings::Id::thread_engagement, e < b.diameter_mm ? Severity::stop : Severity::caution,
            "Little of the thread holds the bolt.", fmt::format("{:.1f} mm", e),
            fmt::format("{:.1f} mm, one and a half diameters in aluminium", wanted),
            "Threads in aluminium strip, and the cell is lost.",
            "A longer bolt or a thinner stack.");
  }
  if (b.torque_Nm) {
    const double kN = *b.torque_Nm / (nut_factor * b.diameter_mm);
    r.force_low_kN = kN * (1.0 - nut_scatter);
    r.force_high_kN = kN * (1.0 + nut_scatter);
  }
  return r;
}

}  // namespace wiring
