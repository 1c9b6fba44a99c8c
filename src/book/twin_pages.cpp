// SPDX-License-Identifier: Apache-2.0
#include "book/twin_pages.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "commission/checklists.hpp"
#include "drawing/plot.hpp"
#include "works/twin.hpp"

namespace book {
namespace {

using drawing::Point;
using drawing::Tone;

drawing::Plot hours_plot(std::string title, std::string unit, double hours) {
  drawing::Plot plot = drawing::page_plot(std::move(title), "hours", std::move(unit));
  plot.x_high = std::max(0.1, hours);
  return plot;
}

/// Room above and below what the lines reach.
void fit(drawing::Plot& plot) {
  double low = 1e300, high = -1e300;
  for (const drawing::Series& s : plot.series)
    for (const Point& p : s.values) low = std::min(low, p.y_mm), high = std::max(high, p.y_mm);
  const double room = std::max(1e-3, 0.08 * (high - low));
  plot.y_low = low - room;
  plot.y_high = high + room;
}

std::vector<drawing::Drawing> cycle_plates(const works::TwinStudy& study, int series) {
  const double hours = study.cycle.back().hours;
  drawing::Plot volts =
      hours_plot("A full cycle at the design power: voltages of one cell", "V", hours);
  drawing::Series low{{}, "lowest cell", Tone::brick, 0.4, 0.0},
      high{{}, "highest cell", Tone::ink, 0.3, 0.0}, bus{{}, "", Tone::quiet, 0.3, 1.2};
  drawing::Plot amps = hours_plot("Currents of the packs, discharging upwards", "A", hours);
  drawing::Plot heat = hours_plot("The hottest cell", "°C", hours);
  drawing::Series hot{{}, "", Tone::brick, 0.4, 0.0};
  const std::size_t packs = study.cycle.front().pack_A.size();
  std::vector<drawing::Series> pack(packs);
  for (const works::TwinStudy::CyclePoint& p : study.cycle) {
    low.values.push_back({p.hours, p.lowest_V});
    high.values.push_back({p.hours, p.highest_V});
    bus.values.push_back({p.hours, p.bus_V / series});
    hot.values.push_back({p.hours, p.hottest_C});
    for (std::size_t k = 0; k < packs; ++k) pack[k].values.push_back({p.hours, p.pack_A[k]});
  }
  volts.series = {bus, high, low};
  for (std::size_t k = 0; k < packs; ++k) {
    pack[k].tone = k == 0 ? Tone::brick : Tone::ink;
    pack[k].dash_mm = k < 2 ? 0.0 : 1.2;
    if (packs > 1 && packs <= 4) pack[k].label = "pack " + layout::pack_name(static_cast<int>(k));
    amps.series.push_back(pack[k]);
  }
  heat.series = {hot};
  fit(volts), fit(amps), fit(heat);
  return {drawing::draw(volts), drawing::draw(amps), drawing::draw(heat)};
}

}  // namespace

std::optional<Section> behaviour_pages(const project::Project& project, const works::Plan& plan) {
  const std::optional<works::TwinStudy> study = works::study(project, plan);
  if (!study || study->cycle.size() < 2) return std::nullopt;
  Section s{"How it behaves", {}, true};
  s.blocks.push_back(Paragraph{
      "The bank as a twin: every cell with its own capacity and resistance, wires and limits as "
      "planned. Reckoned, not measured.",
      true, false});
  const int series = project.layout.series();
  const auto plates = cycle_plates(*study, series);
  s.blocks.push_back(Plate{
      {plates[0]},
      "A full cycle at the design power, voltages. Broken line: the bus over the groups in series. Cells lie apart at both "
      "ends and hardly in between, where voltage says little about charge.",
      1});
  s.blocks.push_back(Plate{
      {plates[1]},
      "Currents of the packs, discharging upwards: how they share over the whole cycle. Near full the pack that is less full takes most.",
      1});
  s.blocks.push_back(Plate{
      {plates[2]}, "The hottest cell. Cells in the middle of a row give their heat away last.", 1});

  s.blocks.push_back(Heading{"Balancing"});
  const bank::Balancing& b = study->balancing;
  drawing::Plot plot =
      hours_plot("Cells two percent apart, balanced inside the packs", "Ah", b.hours);
  drawing::Series line{{}, "", Tone::brick, 0.4, 0.0};
  for (const bank::Balancing::Point& p : b.course) line.values.push_back({p.hours, p.spread_Ah});
  plot.series = {line};
  fit(plot);
  plot.y_low = 0.0;
  s.blocks.push_back(Plate{
      {drawing::draw(plot)},
      "Charge between the fullest and the emptiest cell of a pack, from two percent apart to half a percent of the capacity.",
      1});
  const bank::ParallelTop& alone = study->parallel;
  const bank::SeriesThenParallel& first = study->series_first;
  s.blocks.push_back(Paragraph{
      fmt::format(
          "In the packs: {} while the charger keeps its voltage. Before assembly, one pack's cells as they come, about "
          "30 % full and two percent apart: all in parallel on a supply of 10 A {:.0f} h; charged in series first {:.1f} h, "
          "then {:.1f} h in parallel for the {:.1f} Ah that they still lie apart. The last {:.1f} h are the steep ones "
          "that nobody may leave alone.",
          b.done ? fmt::format("{:.0f} h", b.hours)
                 : fmt::format("not done after {:.0f} h, {:.1f} Ah still apart", b.hours, b.end_Ah),
          alone.hours, first.series_hours, first.parallel.hours, first.spread_Ah,
          std::max(0.0, first.parallel.hours - first.parallel.hours_to_voltage)),
      false, false});

  s.blocks.push_back(Heading{"Rehearsals: faults played beforehand"});
  Table table{{{"fault", false, 1.1},
               {"what one would see", false, 2.4},
               {"what catches it", false, 1.5},
               {"what to do", false, 2.0}},
              {},
              true};
  for (const bank::Rehearsal& r : study->rehearsals)
    table.rows.push_back(
        {r.title, r.seen,
         r.caught_by + (r.caught_s > 0.0 ? fmt::format(", after {:.0f} min", r.caught_s / 60.0)
                                         : std::string()),
         r.finding.remedy});
  s.blocks.push_back(std::move(table));
  s.blocks.push_back(Paragraph{std::string(commission::defer), false, true});
  return s;
}

}  // namespace book
