// SPDX-License-Identifier: Apache-2.0
// What no single value shows.
#include <set>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "commission/sense.hpp"
#include "project/views.hpp"
#include "wiring/conductor.hpp"
#include "wiring/joints.hpp"

namespace project {

namespace units = base::units;
using base::InputError;

void check(const Project& project) {
  for (const Row* row : catalogue())
    if (row->must_be_said && !at(project, *row).given())
      throw InputError({}, fmt::format("no {} in [{}]", row->key, row->table),
                       fmt::format("{}: {}", row->key, row->label),
                       fmt::format("add a line under [{}]: {} = …", row->table, row->key));
  if (project.cell.min.in(units::V) >= project.cell.max.in(units::V))
    throw InputError({}, "cell.min_V not below cell.max_V", "the lower limit below the upper one",
                     "take both from the cell's sheet");
  if (const auto area = project.wiring.area.in(units::mm2)) {
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
  const double bus_A = project.bus.power.in(units::W) /
                       (project.inverter.stop_per_cell.in(units::V)*project.layout.series());
  if (bus_A > 5000.0)
    throw InputError({},
                     fmt::format("bus.power_W = {:g}, which is {:.0f} A at the inverter's stop",
                                 project.bus.power.in(units::W), bus_A),
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
  const std::vector<wiring::Run> runs = runs_of(project);
  if (const File* f = series_file(project, "devices.csv"))
    (void)wiring::read_devices(f->bytes, runs);
  if (const File* f = series_file(project, "joints.csv"))
    (void)wiring::read_joints(f->bytes, shape);
  if (const File* f = series_file(project, "sense.csv"))
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

}  // namespace project
