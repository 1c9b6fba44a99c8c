// SPDX-License-Identifier: Apache-2.0
#include "drawing/drawing.hpp"

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

}  // namespace drawing
