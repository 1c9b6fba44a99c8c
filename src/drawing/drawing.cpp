// SPDX-License-Identifier: Apache-2.0
#include "drawing/drawing.hpp"

#include <cmath>

namespace drawing {

const char* name(Tone tone) {
  switch (tone) {
    case Tone::ink:
      return "ink";
    case Tone::quiet:
      return "quiet";
    case Tone::rule:
      return "rule";
    case Tone::copper:
      return "copper";
    case Tone::moss:
      return "moss";
    case Tone::amber:
      return "amber";
    case Tone::brick:
      return "brick";
    case Tone::paper:
      return "paper";
    case Tone::sheet:
      return "sheet";
    case Tone::none:
      break;
  }
  return "none";
}

void Drawing::line(Point a, Point b, Tone tone, double line_mm, double dash_mm) {
  add_stroke({{a, b}, tone, line_mm, Tone::none, false, dash_mm, 1.0});
}

void Drawing::box(Point c, double w, double h, Tone tone, double line_mm, Tone fill) {
  add_stroke({{c, {c.x_mm + w, c.y_mm}, {c.x_mm + w, c.y_mm + h}, {c.x_mm, c.y_mm + h}},
              tone,
              line_mm,
              fill,
              true,
              0.0,
              1.0});
}

void Drawing::write(Point at, std::string text, double size_mm, Tone tone, Anchor anchor,
                    bool bold) {
  items.emplace_back(Text{at, std::move(text), size_mm, tone, anchor, bold});
}

namespace {

double hundredths(double mm) { return std::round(mm * 100.0) / 100.0; }

struct AsJson {
  base::Json operator()(const Stroke& s) const {
    base::Json points = base::Json::array();
    for (const Point& p : s.points) points.push_back({hundredths(p.x_mm), hundredths(p.y_mm)});
    return {{"kind", "stroke"},    {"points", std::move(points)}, {"line", name(s.line)},
            {"width", s.width_mm}, {"fill", name(s.fill)},        {"closed", s.closed},
            {"dash", s.dash_mm},   {"strength", s.fill_strength}};
  }
  base::Json operator()(const Circle& c) const {
    return {
        {"kind", "circle"},      {"x", hundredths(c.centre.x_mm)}, {"y", hundredths(c.centre.y_mm)},
        {"radius", c.radius_mm}, {"line", name(c.line)},           {"width", c.width_mm},
        {"fill", name(c.fill)}};
  }
  base::Json operator()(const Text& t) const {
    return {{"kind", "text"},
            {"x", hundredths(t.at.x_mm)},
            {"y", hundredths(t.at.y_mm)},
            {"text", t.text},
            {"size", t.size_mm},
            {"tone", name(t.tone)},
            {"anchor", t.anchor == Anchor::start ? "start"
                       : t.anchor == Anchor::end ? "end"
                                                 : "middle"},
            {"bold", t.bold}};
  }
};

}  // namespace

base::Json to_json(const Drawing& drawing) {
  base::Json items = base::Json::array();
  for (const auto& item : drawing.items) items.push_back(std::visit(AsJson{}, item));
  return {{"width_mm", drawing.width_mm},
          {"height_mm", drawing.height_mm},
          {"title", drawing.title},
          {"items", std::move(items)}};
}

}  // namespace drawing
