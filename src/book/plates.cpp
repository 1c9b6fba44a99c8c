// SPDX-License-Identifier: Apache-2.0
#include "book/plates.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/figure.hpp"
#include "drawing/plot.hpp"

namespace book {
namespace {

namespace units = base::units;
using drawing::Anchor;
using drawing::Drawing;
using drawing::Point;
using drawing::Tone;

/// A plus or a minus as two strokes or one, so that no font decides what a terminal is.
void draw_sign(Drawing& d, Point c, double size, bool plus) {
  d.line({c.x_mm - size, c.y_mm}, {c.x_mm + size, c.y_mm}, Tone::ink, 0.3);
  if (plus) d.line({c.x_mm, c.y_mm - size}, {c.x_mm, c.y_mm + size}, Tone::ink, 0.3);
}

/// The cells with a discharge curve, by what they gave; the typical one stands in the middle.
std::vector<const works::CellResult*> by_charge(const works::Plan& plan) {
  std::vector<const works::CellResult*> order;
  for (const works::CellResult& c : plan.cells)
    if (c.curve.size() > 1) order.push_back(&c);
  std::sort(order.begin(), order.end(), [](const auto* a, const auto* b) {
    return a->curve.back().charge_Ah < b->curve.back().charge_Ah;
  });
  return order;
}

std::vector<Point> points_of(const works::CellResult& cell) {
  std::vector<Point> points;
  for (const works::CurvePoint& p : cell.curve) points.push_back({p.charge_Ah, p.voltage_V});
  return points;
}

}  // namespace

Drawing draw_pack(const project::Project& project, const works::Plan& plan, std::size_t pack,
                  double width_mm) {
  CHECK(plan.arrangement && plan.box && pack < plan.arrangement->assignment.packs.size());
  const layout::Box& box = *plan.box;
  const int parallel = project.layout.parallel();
  const match::Pack& chosen = plan.arrangement->assignment.packs[pack];
  const double margin = 13.0;
  const double scale = (width_mm - 2.0 * margin) / box.width.in(units::mm);
  const double thick = box.cell_thickness.in(units::mm)*scale,
               wide = box.cell_width.in(units::mm)*scale;
  Drawing d;
  d.width_mm = width_mm;
  d.height_mm = box.depth.in(units::mm)*scale + 2.0 * margin + 6.0;
  d.title = "Pack " + layout::pack_name(static_cast<int>(pack)) + " from above";
  const double bottom = d.height_mm - margin;  // y of the box's near side
  const auto corner = [&](const layout::Slot& s) {
    return Point{margin + s.x.in(units::mm)*scale, bottom - s.y.in(units::mm)*scale - wide};
  };
  const double inset = std::min(wide * 0.14, 5.0);
  const auto terminal = [&](const layout::Slot& s, bool plus) {
    const Point c = corner(s);
    return Point{c.x_mm + thick / 2.0,
                 plus == s.positive_far ? c.y_mm + inset : c.y_mm + wide - inset};
  };
  const auto slot_of = [&](int group, int member) -> const layout::Slot& {
    return box.slots[static_cast<std::size_t>(group * parallel + member)];
  };

  for (const layout::Slot& s : box.slots)
    d.box(corner(s), thick, wide, Tone::quiet, 0.2, Tone::sheet);
  // Copper first, so that the terminals lie on it.
  const double bar = std::min(thick * 0.34, 3.2);
  for (int g = 0; g < static_cast<int>(chosen.groups.size()); ++g)
    for (int m = 0; m + 1 < parallel; ++m)
      for (const bool plus : {true, false})
        d.add_stroke({{terminal(slot_of(g, m), plus), terminal(slot_of(g, m + 1), plus)},
                      Tone::copper,
                      bar,
                      Tone::none,
                      false,
                      0.0,
                      1.0});
  for (const layout::Link& link : box.links) {
    // Between rows every member has its own bar to the one across; along a row one bar joins them
    // all.
    const auto distance = [](Point a, Point b) {
      return std::hypot(a.x_mm - b.x_mm, a.y_mm - b.y_mm);
    };
    double nearest = 1e18;
    std::vector<std::pair<Point, Point>> pairs;
    for (int a = 0; a < parallel; ++a)
      for (int b = 0; b < parallel; ++b) {
        pairs.emplace_back(terminal(slot_of(link.from_group, a), true),
                           terminal(slot_of(link.from_group + 1, b), false));
        nearest = std::min(nearest, distance(pairs.back().first, pairs.back().second));
      }
    for (const auto& [from, to] : pairs) {
      if (distance(from, to) < nearest * 1.01)
        d.add_stroke({{from, to}, Tone::copper, bar, Tone::none, false, 0.0, 1.0});
    }
  }
  const double radius = std::min(thick * 0.17, 1.7);
  for (const layout::Slot& s : box.slots) {
    for (const bool plus : {true, false}) {
      const Point t = terminal(s, plus);
      d.add_circle({t, radius, Tone::ink, 0.2, Tone::paper});
      draw_sign(d, t, radius * 0.55, plus);
    }
    const std::size_t index =
        chosen.groups[static_cast<std::size_t>(s.group)].cells[static_cast<std::size_t>(s.member)];
    const Point c = corner(s);
    const double size = std::min({thick * 0.36, wide * 0.10, 2.9});
    const std::string& label = plan.arrangement->labels[index];
    const double fit =
        std::min(size, thick * 0.9 / (0.55 * std::max<double>(1.0, double(label.size()))));
    d.write({c.x_mm + thick / 2.0, c.y_mm + wide * 0.50}, label, fit, Tone::ink, Anchor::middle,
            true);
    if (s.member == 0)
      d.write({c.x_mm + thick / 2.0, c.y_mm + wide * 0.50 + size * 1.5},
              fmt::format("{}", s.group + 1), size * 0.82, Tone::quiet, Anchor::middle);
  }
  // Main terminals: minus at the first group, plus at the last. A terminal that faces another row
  // is led out at the row's end, never across the gap, where the other pole may be.
  const auto main_terminal = [&](const layout::Slot& s, bool plus, const std::string& text) {
    const Point t = terminal(s, plus);
    const bool far = plus == s.positive_far;
    const bool inside = far ? s.row + 1 < box.rows : s.row > 0;
    Point out{t.x_mm, far ? corner(s).y_mm - 4.0 : corner(s).y_mm + wide + 4.0};
    Anchor anchor = Anchor::start;
    Point label{out.x_mm + bar, far ? out.y_mm + 0.4 : out.y_mm + 1.2};
    if (inside) {
      const bool to_left = t.x_mm < width_mm / 2.0;
      out = {to_left ? margin - 3.0 : width_mm - margin + 3.0, t.y_mm};
      label = {to_left ? 0.5 : width_mm - 0.5, far ? t.y_mm + bar + 1.6 : t.y_mm - bar};
      anchor = to_left ? Anchor::start : Anchor::end;
    }
    d.add_stroke({{t, out}, Tone::copper, bar, Tone::none, false, 0.0, 1.0});
    d.add_circle({t, radius, Tone::ink, 0.2, Tone::paper});
    draw_sign(d, t, radius * 0.55, plus);
    d.write(label, text, 3.0, Tone::ink, anchor, true);
  };
  main_terminal(slot_of(0, 0), false, "minus");
  main_terminal(slot_of(static_cast<int>(chosen.groups.size()) - 1, parallel - 1), true, "plus");
  d.write({width_mm - margin, 4.0},
          fmt::format("Pack {}, {:.0f} × {:.0f} mm, from above",
                      layout::pack_name(static_cast<int>(pack)), box.width.in(units::mm),
                      box.depth.in(units::mm)),
          2.6, Tone::quiet, Anchor::end);
  return d;
}

std::vector<Drawing> draw_curves(const works::Plan& plan, double width_mm, double height_mm) {
  const auto order = by_charge(plan);
  if (order.empty()) return {};
  double y_low = 10.0, y_high = 0.0;
  for (const works::CellResult* c : order)
    for (const works::CurvePoint& p : c->curve)
      y_low = std::min(y_low, p.voltage_V), y_high = std::max(y_high, p.voltage_V);
  const double x_high = order.back()->curve.back().charge_Ah;
  const std::vector<Point> typical = points_of(*order[order.size() / 2]);
  std::vector<Drawing> drawings;
  for (const works::CellResult& tested : plan.cells) {
    if (tested.curve.size() < 2) continue;
    const works::CellResult* c = &tested;
    drawing::SmallCurve small;
    small.label = c->label;
    small.values = points_of(*c);
    small.typical = typical;
    small.x_high = x_high * 1.02;
    small.y_low = y_low - 0.03;
    small.y_high = std::min(y_high, 3.5) + 0.03;
    small.note = c->capacity_Ah ? base::show_value(*c->capacity_Ah) : "";
    if (c->judgement && c->judgement->verdict == bench::Verdict::reject)
      small.note_tone = Tone::brick, small.note = "short " + small.note;
    if (c->judgement && c->judgement->verdict == bench::Verdict::undecided)
      small.note_tone = Tone::amber, small.note = "open " + small.note;
    if (c->place == "set aside") small.note_tone = Tone::amber, small.note = "aside " + small.note;
    drawings.push_back(drawing::draw(small, width_mm, height_mm));
  }
  return drawings;
}

Drawing draw_histogram(const works::LotResult& lot, double width_mm, double height_mm) {
  Drawing d;
  d.width_mm = width_mm;
  d.height_mm = height_mm;
  const bench::Histogram& h = lot.distribution.histogram;
  d.title = fmt::format("{}: {} cells", lot.quantity.label, lot.distribution.count);
  d.write({0.0, 3.2}, lot.quantity.label, 2.6, Tone::ink, Anchor::start, true);
  d.write({width_mm, 3.2}, lot.quantity.unit, 2.4, Tone::quiet, Anchor::end);
  const double base_y = height_mm - 4.2, top_y = 6.5;
  std::size_t most = 1;
  for (const std::size_t n : h.counts) most = std::max(most, n);
  double low = h.from, high = h.from + h.width * double(h.counts.size());
  if (lot.limit) low = std::min(low, lot.limit->value), high = std::max(high, lot.limit->value);
  const double room = std::max(high - low, 1e-12);
  const auto x = [&](double value) { return 1.0 + (width_mm - 2.0) * (value - low) / room; };
  for (std::size_t k = 0; k < h.counts.size(); ++k) {
    if (h.counts[k] == 0) continue;
    const double left = x(h.from + h.width * double(k)) + 0.15,
                 right = x(h.from + h.width * double(k + 1)) - 0.15;
    const double height = (base_y - top_y) * double(h.counts[k]) / double(most);
    d.add_stroke({.points = {{left, base_y},
                             {right, base_y},
                             {right, base_y - height},
                             {left, base_y - height}},
                  .line = Tone::none,
                  .fill = Tone::copper,
                  .closed = true});
  }
  d.line({0.0, base_y}, {width_mm, base_y}, Tone::rule, 0.2);
  d.line({x(lot.distribution.median), top_y - 1.5}, {x(lot.distribution.median), base_y},
         Tone::quiet, 0.2, 0.8);
  if (lot.limit)
    d.line({x(lot.limit->value), top_y - 1.5}, {x(lot.limit->value), base_y}, Tone::amber, 0.4);
  d.write({0.0, height_mm - 0.6}, base::significant(low, 4), 2.3, Tone::quiet);
  d.write({width_mm, height_mm - 0.6}, base::significant(high, 4), 2.3, Tone::quiet, Anchor::end);
  return d;
}

Drawing draw_one_curve(const project::Project& project, const works::Plan& plan,
                       const works::CellResult& cell, double width_mm, double height_mm) {
  const auto order = by_charge(plan);
  drawing::Plot plot;
  plot.width_mm = width_mm;
  plot.height_mm = height_mm;
  plot.title = "Discharge of " + cell.label;
  plot.x_label = "Ah";
  plot.y_label = "V";
  const double rated = project.cell.rated_capacity.in(units::Ah);
  plot.x_high = std::max(order.back()->curve.back().charge_Ah, rated) * 1.04;
  plot.y_low = project.cell.min.in(units::V)-0.1;
  plot.y_high = 3.5;
  const works::CellResult* middle = order[order.size() / 2];
  if (middle != &cell) plot.series.push_back({points_of(*middle), "", Tone::quiet, 0.25, 0.0});
  plot.series.push_back({points_of(cell), cell.label, Tone::brick, 0.45, 0.0});
  return drawing::draw(plot);
}

Drawing draw_years(const project::Project& project, const works::Plan& plan, double width_mm) {
  drawing::Plot plot;
  plot.width_mm = width_mm;
  plot.height_mm = 72.0;
  plot.title = "Capacity over the years, as a band between two published laws";
  plot.x_label = "years";
  plot.y_label = "capacity left, %";
  plot.x_high = std::max(1.0, plan.years.back().year);
  plot.y_low =
      std::floor(std::min(plan.years.back().low * 100.0, project.use.end_percent()) / 10.0) * 10.0 -
      5.0;
  plot.y_high = 100.0;
  drawing::Series low, high;
  for (const works::YearForecast& y : plan.years) {
    plot.band_low.push_back({y.year, y.low * 100.0});
    plot.band_high.push_back({y.year, y.high * 100.0});
  }
  low.values = plot.band_low;
  low.label = "harsher law";
  low.dash_mm = 1.2;
  high.values = plot.band_high;
  high.label = "milder law";
  plot.series = {low, high};
  plot.y_mark = project.use.end_percent();
  plot.mark_label = fmt::format("too small, {:g} %", plot.y_mark);
  return drawing::draw(plot);
}

}  // namespace book
