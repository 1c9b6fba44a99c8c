// SPDX-License-Identifier: Apache-2.0
#include "book/diagram.hpp"

#include <algorithm>
#include <vector>

#include <fmt/format.h>

#include "base/figure.hpp"

namespace book {
namespace {

using drawing::Anchor;
using drawing::Drawing;
using drawing::Point;
using drawing::Tone;
using wiring::Device;
using wiring::DeviceKind;
using wiring::RunResult;

constexpr double line_mm = 0.3, wire_mm = 0.6, text_mm = 2.5;

void wire(Drawing& d, Point a, Point b, double width_mm = wire_mm) {
  d.add_stroke({{a, b}, Tone::copper, width_mm, Tone::none, false, 0.0, 1.0});
}

/// Every symbol stands on its wire around `c`, 8 mm from end to end, over a gap in the wire.
constexpr double half = 4.0;

void fuse(Drawing& d, Point c) {
  d.box({c.x_mm - half, c.y_mm - 1.5}, 2 * half, 3.0, Tone::ink, line_mm, Tone::paper);
  d.line({c.x_mm - half, c.y_mm}, {c.x_mm + half, c.y_mm}, Tone::ink, line_mm);
}
void resistor(Drawing& d, Point c) {
  d.box({c.x_mm - half, c.y_mm - 1.2}, 2 * half, 2.4, Tone::ink, line_mm, Tone::paper);
}
/// An open blade; its far contact says what it is: a bar (isolator), a cross (breaker), a bow
/// (contactor).
void blade(Drawing& d, Point c, DeviceKind kind) {
  const double y = c.y_mm;
  d.add_stroke({{{c.x_mm - half, y}, {c.x_mm + half, y}}, Tone::paper, 1.6});
  d.line({c.x_mm - half, y}, {c.x_mm - 2.2, y}, Tone::ink, line_mm);
  d.line({c.x_mm - 2.2, y}, {c.x_mm + 1.8, y - 2.8}, Tone::ink, line_mm);
  d.line({c.x_mm + 2.2, y}, {c.x_mm + half, y}, Tone::ink, line_mm);
  d.add_circle({{c.x_mm - 2.2, y}, 0.35, Tone::ink, line_mm, Tone::ink});
  if (kind == DeviceKind::breaker) {
    d.line({c.x_mm + 1.5, y - 0.7}, {c.x_mm + 2.9, y + 0.7}, Tone::ink, line_mm);
    d.line({c.x_mm + 1.5, y + 0.7}, {c.x_mm + 2.9, y - 0.7}, Tone::ink, line_mm);
  } else if (kind == DeviceKind::contactor) {
    d.add_circle({{c.x_mm + 2.6, y}, 0.7, Tone::ink, line_mm, Tone::paper});
  } else {
    d.line({c.x_mm + 2.2, y - 1.1}, {c.x_mm + 2.2, y + 1.1}, Tone::ink, line_mm);
  }
}
void labelled(Drawing& d, Point c, const std::string& text) {
  d.box({c.x_mm - half, c.y_mm - 3.0}, 2 * half, 6.0, Tone::ink, line_mm, Tone::paper);
  d.write({c.x_mm, c.y_mm + 0.9}, text, 2.3, Tone::ink, Anchor::middle);
}
void battery(Drawing& d, Point c) {
  for (const double x : {-1.6, 0.8}) {
    d.line({c.x_mm + x, c.y_mm - 3.0}, {c.x_mm + x, c.y_mm + 3.0}, Tone::ink, line_mm);
    d.line({c.x_mm + x + 1.0, c.y_mm - 1.5}, {c.x_mm + x + 1.0, c.y_mm + 1.5}, Tone::ink, 0.7);
  }
}
/// A converter: a square cut by its diagonal, what goes in and what comes out.
void converter(Drawing& d, Point corner, double side, bool alternating) {
  d.box(corner, side, side, Tone::ink, line_mm, Tone::paper);
  d.line({corner.x_mm, corner.y_mm + side}, {corner.x_mm + side, corner.y_mm}, Tone::ink, line_mm);
  const auto direct = [&](Point c) {
    d.line({c.x_mm - 1.4, c.y_mm - 0.5}, {c.x_mm + 1.4, c.y_mm - 0.5}, Tone::ink, line_mm);
    d.line({c.x_mm - 1.4, c.y_mm + 0.5}, {c.x_mm + 1.4, c.y_mm + 0.5}, Tone::ink, line_mm);
  };
  direct({corner.x_mm + side * 0.27, corner.y_mm + side * 0.28});
  const Point out{corner.x_mm + side * 0.72, corner.y_mm + side * 0.72};
  if (!alternating) {
    direct(out);
    return;
  }
  std::vector<Point> wave;
  for (int i = 0; i <= 12; ++i) {
    const double x = i / 12.0;  // a parabola up and one down read as a wave
    const double y = x < 0.5 ? -4.0 * x * (0.5 - x) * 4.0 : 4.0 * (x - 0.5) * (1.0 - x) * 4.0;
    wave.push_back({out.x_mm - 1.8 + 3.6 * x, out.y_mm + y});
  }
  drawing::Stroke stroke;
  stroke.points = std::move(wave);
  stroke.width_mm = line_mm;
  d.add_stroke(std::move(stroke));
}

std::string section_text(const RunResult& r) {
  return fmt::format("{}, {:g} m",
                     r.run.awg.empty() ? fmt::format("{:g} mm²", r.area_mm2) : "gauge " + r.run.awg,
                     r.run.length_m);
}

void symbol(Drawing& d, Point c, const Device& device, const RunResult& run, double precharge_Ohm) {
  const std::string rated = device.rated_A ? fmt::format("{:g} A", *device.rated_A) : "";
  switch (device.kind) {
    case DeviceKind::fuse:
      fuse(d, c);
      d.write({c.x_mm, c.y_mm + 4.6}, "≥ " + base::fixed(run.fault.high_A / 1000.0, 1) + " kA", 2.2,
              Tone::quiet, Anchor::middle);
      break;
    case DeviceKind::breaker:
    case DeviceKind::isolator:
    case DeviceKind::contactor:
      blade(d, c, device.kind);
      break;
    case DeviceKind::precharge:
      // Beside the contact that it spares: its own path over it.
      wire(d, {c.x_mm - half - 1.5, c.y_mm}, {c.x_mm - half - 1.5, c.y_mm + 7.0}, line_mm);
      wire(d, {c.x_mm - half - 1.5, c.y_mm + 7.0}, {c.x_mm + half + 1.5, c.y_mm + 7.0}, line_mm);
      wire(d, {c.x_mm + half + 1.5, c.y_mm + 7.0}, {c.x_mm + half + 1.5, c.y_mm}, line_mm);
      blade(d, c, DeviceKind::contactor);
      resistor(d, {c.x_mm, c.y_mm + 7.0});
      d.write({c.x_mm, c.y_mm + 11.2}, fmt::format("{:g} Ω", precharge_Ohm), 2.5, Tone::quiet,
              Anchor::middle);
      break;
    case DeviceKind::bms:
      labelled(d, c, "BMS");
      break;
    case DeviceKind::shunt:
      labelled(d, c, "shunt");
      break;
    default:
      break;
  }
  if (!rated.empty() && device.kind != DeviceKind::inverter)
    d.write({c.x_mm, c.y_mm - 4.2}, rated, text_mm, Tone::ink, Anchor::middle);
}

/// Devices of a run in the order in which they are built: what protects it where it begins.
std::vector<const Device*> ordered(const wiring::Circuit& circuit, const RunResult& run) {
  std::vector<const Device*> list;
  for (const DeviceKind kind :
       {DeviceKind::fuse, DeviceKind::breaker, DeviceKind::isolator, DeviceKind::bms,
        DeviceKind::shunt, DeviceKind::precharge, DeviceKind::contactor})
    for (const Device& d : circuit.devices) {
      if (d.at != run.run.name || d.kind != kind) continue;
      const bool drawn_with_precharge = kind == DeviceKind::contactor &&
                                        std::any_of(list.begin(), list.end(), [](const Device* x) {
                                          return x->kind == DeviceKind::precharge;
                                        });
      if (!drawn_with_precharge) list.push_back(&d);
    }
  return list;
}

void earth(Drawing& d, Point at) {
  wire(d, {at.x_mm, at.y_mm - 6.0}, at, line_mm);
  for (int i = 0; i < 3; ++i)
    d.line({at.x_mm - 2.4 + 0.8 * i, at.y_mm + 0.9 * i},
           {at.x_mm + 2.4 - 0.8 * i, at.y_mm + 0.9 * i}, Tone::ink, line_mm);
}

}  // namespace

Drawing draw_circuit(const project::Project& project, const works::Plan& plan, double width_mm) {
  const wiring::Circuit& circuit = plan.circuit.circuit;
  const int packs = project.layout.packs();
  const int shown = std::min(packs, 6);
  std::vector<const RunResult*> right;
  const RunResult* lead = nullptr;
  const wiring::Run* to_earth = nullptr;
  for (const RunResult& r : plan.circuit.runs) {
    if (r.run.from == wiring::Point::pack) {
      if (lead == nullptr) lead = &r;
    } else {
      right.push_back(&r);
    }
  }
  for (const wiring::Run& r : circuit.runs)
    if (r.to == wiring::Point::earth) to_earth = &r;
  const double row_mm = 21.0, top = 17.0;
  const auto rows = std::max<std::size_t>(std::size_t(shown), right.size());
  Drawing d;
  d.width_mm = width_mm;
  d.height_mm = top + row_mm * (double(rows) - 1.0) + 26.0;
  d.title =
      fmt::format("Single-line diagram: {} packs on a bus, with what stands in each run", packs);
  const double bus_x = width_mm * 0.47, low = top + row_mm * (double(rows) - 1.0);
  const double reach = rows == 1 ? 7.0 : 4.0;
  d.add_stroke({{{bus_x, top - reach}, {bus_x, low + reach}}, Tone::copper, 1.8});
  d.write({bus_x, top - reach - 1.8}, "bus", text_mm, Tone::quiet, Anchor::middle);

  const double battery_x = 5.5;
  for (int k = 0; k < shown; ++k) {
    const double y = top + row_mm * k;
    wire(d, {battery_x + 1.8, y}, {bus_x, y});
    battery(d, {battery_x, y});
    d.line({battery_x - 1.6, y}, {battery_x - 5.0, y}, Tone::copper, wire_mm);
    d.write({battery_x - 5.0, y - 4.4}, "Pack " + layout::pack_name(k), 2.9, Tone::ink,
            Anchor::start, true);
    const double share = k < static_cast<int>(plan.pack_currents_A.size())
                             ? plan.pack_currents_A[static_cast<std::size_t>(k)]
                             : 0.0;
    d.write({battery_x - 5.0, y + 6.2},
            fmt::format("{}S{}P{}", project.layout.series(), project.layout.parallel(),
                        share > 0.0 ? ", " + base::significant(share, 3) + " A" : ""),
            text_mm, Tone::quiet);
    if (lead == nullptr) continue;
    const auto devices = ordered(circuit, *lead);
    const double from = battery_x + 6.0, to = bus_x - 14.0,
                 step = (to - from) / double(std::max<std::size_t>(1, devices.size()) + 1);
    for (std::size_t i = 0; i < devices.size(); ++i)
      symbol(d, {from + step * double(i + 1), y}, *devices[i], *lead,
             project.wiring.precharge.in(base::units::Ohm));
    if (k == 0) d.write({bus_x - 2.0, y + 4.0}, section_text(*lead), 2.5, Tone::quiet, Anchor::end);
  }
  if (packs > shown)
    d.write({battery_x - 5.0, top + row_mm * shown - 8.0},
            fmt::format("… {} more alike", packs - shown), text_mm, Tone::quiet);

  const double box = 12.0, box_x = width_mm - box - 1.0;
  for (std::size_t i = 0; i < right.size(); ++i) {
    const RunResult& r = *right[i];
    const double y = top + row_mm * double(i);
    wire(d, {bus_x, y}, {box_x, y}, r.run.to == wiring::Point::inverter ? 0.9 : wire_mm);
    const auto devices = ordered(circuit, r);
    const double from = bus_x + 24.0, to = box_x - 2.0,
                 step = (to - from) / double(std::max<std::size_t>(1, devices.size()) + 1);
    for (std::size_t k = 0; k < devices.size(); ++k)
      symbol(d, {from + step * double(k + 1), y}, *devices[k], r,
             project.wiring.precharge.in(base::units::Ohm));
    converter(d, {box_x, y - box / 2.0}, box, r.run.to == wiring::Point::inverter);
    const std::string end = r.run.to == wiring::Point::inverter  ? "Inverter"
                            : r.run.to == wiring::Point::charger ? "Charger"
                                                                 : "Solar";
    d.write({box_x + box, y + box / 2.0 + 3.4},
            r.current_A ? fmt::format("{}, {:.3g} A", end, *r.current_A) : end, text_mm, Tone::ink,
            Anchor::end, true);
    d.write({bus_x + 2.5, y + 4.0},
            fmt::format("{}, {} %", section_text(r), base::significant(r.drop_percent, 2)), 2.2,
            Tone::quiet);
  }
  if (to_earth != nullptr) {
    earth(d, {bus_x, low + reach + 6.0});
    d.write({bus_x + 4.0, low + reach + 7.0},
            fmt::format("earth, {:g} m, as codes say", to_earth->length_m), 2.2, Tone::quiet);
  }
  d.write({0.0, d.height_mm - 4.8},
          "One line stands for plus and minus; the order along it is the order to build.", 2.5,
          Tone::quiet);
  d.write(
      {0.0, d.height_mm - 1.0},
      fmt::format(
          "Currents at {} A, the design power when the inverter is about to stop; bus tapped with {}.",
          base::significant(works::find_figure(plan, "wire.design_current_A")->figure.value, 3),
          project.layout.take_off.words()),
      2.5, Tone::quiet);
  return d;
}

}  // namespace book
