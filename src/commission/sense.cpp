// SPDX-License-Identifier: Apache-2.0
#include "commission/sense.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/number.hpp"
#include "base/statistics.hpp"
#include "layout/layout.hpp"

namespace commission {
namespace {

constexpr double usual_V = 3.3, lowest_V = 2.5, highest_V = 3.65, odd_V = 0.05;

}  // namespace

std::vector<SenseReading> read_sense(std::string_view bytes, int packs, int series) {
  const base::CsvTable table(bytes, "sense.csv");
  const std::size_t pack = table.must_have({"pack"}), pin = table.must_have({"pin"}),
                    volts = table.must_have({"volts"});
  std::vector<SenseReading> readings;
  for (const auto& row : table.rows()) {
    const std::string name(base::trimmed(table.text(row, pack)));
    SenseReading r;
    r.pack = -1;
    for (int k = 0; k < packs; ++k)
      if (layout::pack_name(k) == name) r.pack = k;
    if (r.pack < 0)
      table.refuse(
          row, pack, fmt::format("pack '{}'", name),
          fmt::format("a pack from {} to {}", layout::pack_name(0), layout::pack_name(packs - 1)),
          "name the pack as it is labelled");
    const auto number = table.number(row, pin);
    if (!number || *number != std::floor(*number) || *number < 0 || *number > series)
      table.refuse(row, pin, number ? fmt::format("pin {:g}", *number) : "no pin",
                   fmt::format("a pin from 0, the pack's minus, to {}", series),
                   "count the pins from the pack's minus");
    r.pin = int(*number);
    for (const SenseReading& other : readings)
      if (other.pack == r.pack && other.pin == r.pin)
        table.refuse(row, pin, fmt::format("pin {} of pack {} a second time", r.pin, name),
                     "every pin once", "keep the reading that holds");
    const auto V = table.number(row, volts);
    if (!V)
      table.refuse(row, volts, "no voltage", "what the meter reads, with its sign",
                   "fill it in, or take the row out");
    r.volts = *V;
    readings.push_back(r);
  }
  return readings;
}

SenseTable check_sense(int pack, int series, const std::vector<SenseReading>& readings) {
  SenseTable table;
  table.pack = pack;
  table.pins.resize(std::size_t(series) + 1);
  for (int i = 0; i <= series; ++i) table.pins[std::size_t(i)].pin = i;
  table.pins[0].read_V = 0.0;  // it is where the minus probe lies
  for (const SenseReading& r : readings)
    if (r.pack == pack) table.pins[std::size_t(r.pin)].read_V = r.volts;
  std::vector<double> steps;
  table.complete = true;
  for (std::size_t i = 1; i < table.pins.size(); ++i) {
    SensePin& p = table.pins[i];
    table.complete = table.complete && p.read_V.has_value();
    if (!p.read_V || !table.pins[i - 1].read_V) continue;
    p.step_V = *p.read_V - *table.pins[i - 1].read_V;
    steps.push_back(*p.step_V);
  }
  const double usual = steps.empty() ? usual_V : base::median(steps);
  const double step = usual > lowest_V && usual < highest_V ? usual : usual_V;
  table.right = table.complete;
  const auto found = [&](findings::Id id, findings::Severity severity, const SensePin& p,
                         std::string what, std::string why, std::string remedy) {
    table.right = false;
    table.findings.push_back(
        {.id = id,
         .severity = severity,
         .what = std::move(what),
         .where = fmt::format("pack {}, pin {}", layout::pack_name(pack), p.pin),
         .measured = fmt::format("{:.3f} V", p.read_V.value_or(0.0)),
         .limit = fmt::format("{:.2f} V, a step of {:.2f} V", p.expected_V, step),
         .why = std::move(why),
         .remedy = std::move(remedy),
         .basis = "common practice, no source",
         .pack = pack});
  };
  const std::string dies = "Plugged in so, the BMS dies at once, or trips for the wrong group.";
  for (std::size_t i = 0; i < table.pins.size(); ++i) {
    SensePin& p = table.pins[i];
    p.expected_V = step * p.pin;
    if (!p.read_V) continue;
    if (i > 0 && !p.step_V) {  // its neighbour was not read: hold it against its place
      p.verdict = std::abs(*p.read_V - p.expected_V) < 0.25 * step ? "right" : "wrong place";
      if (p.verdict != "right")
        found(findings::Id::sense_wrong_pin, findings::Severity::stop, p,
              "The reading is not that of this pin.", dies,
              "Leave the plug out, and follow the wire.");
      continue;
    }
    if (i == 0) {
      p.verdict = std::abs(*p.read_V) < 0.02 ? "right" : "not the pack's minus";
      if (p.verdict != "right")
        found(findings::Id::sense_wrong_pin, findings::Severity::stop, p,
              "Pin 0 does not lie on the pack's minus.", dies,
              "Leave the plug out, and find the wire that lies on the minus.");
      continue;
    }
    const double s = *p.step_V;
    p.verdict = "right";
    const auto usual_step = [&](std::size_t k) {
      return k < table.pins.size() && table.pins[k].step_V &&
             std::abs(*table.pins[k].step_V - step) < 0.5;
    };
    if (s < -0.5 * step && usual_step(i - 1) && usual_step(i + 1)) {
      // Two exchanged wires show two groups on either side; here only one group counts down.
      p.verdict = "cell reversed";
      found(
          findings::Id::cell_reversed, findings::Severity::stop, p,
          fmt::format("Group {} stands the wrong way round in the pack.", p.pin),
          "Charging drives it further into reversal: it vents and burns. Every link beside it is "
          "live in a way nobody expects.",
          "Do not charge. Covered and insulated, take its links off and turn it; then measure all "
          "again.");
    } else if (s < -0.05) {
      p.verdict = "reversed";
      found(
          findings::Id::sense_reversed, findings::Severity::stop, p,
          "The reading falls from one pin to the next: two wires are exchanged, or the minus sign "
          "was overlooked.",
          dies, "Leave the plug out, follow both wires, exchange them, measure all again.");
    } else if (s < 0.5) {
      p.verdict = "doubled";
      found(findings::Id::sense_doubled, findings::Severity::stop, p,
            "Two pins lie on the same terminal.", dies,
            "Leave the plug out, and move the wire to the next group's plus.");
    } else if (s > 1.5 * step) {
      p.verdict = "skips a group";
      found(findings::Id::sense_skips, findings::Severity::stop, p,
            "A group lies between two neighbouring pins.", dies,
            "Leave the plug out; a wire is missing or sits one group too far.");
    } else if (s < lowest_V || s > highest_V || std::abs(s - step) > odd_V) {
      p.verdict = "odd";
      found(findings::Id::sense_odd, findings::Severity::caution, p,
            "The step is not that of the other groups.",
            "A poor contact reads wrong for ever; an odd cell needs a look before it is charged.",
            "Measure on the terminals: where they agree with the others, mend the contact.");
    }
  }
  if (!table.complete)
    table.findings.push_back(
        {.id = findings::Id::sense_incomplete,
         .severity = findings::Severity::caution,
         .what = fmt::format("Not every pin of pack {} was measured.", layout::pack_name(pack)),
         .where = fmt::format("pack {}, sense.csv", layout::pack_name(pack)),
         .measured = "",
         .limit = "",
         .why = "The pin that was left out is the one that kills the BMS.",
         .remedy = "Measure every pin before the plug goes in.",
         .basis = "common practice, no source",
         .pack = pack});
  return table;
}

}  // namespace commission
