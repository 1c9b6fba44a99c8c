// SPDX-License-Identifier: Apache-2.0
// A drawing as a list of strokes and texts in millimetres, y downwards. Knows no PDF and no SVG.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "base/json.hpp"

namespace drawing {

/// Few tones with fixed meaning; the page or the print decides the colour.
enum class Tone : std::uint8_t { none, ink, quiet, rule, copper, moss, amber, brick, paper, sheet };
[[nodiscard]] const char* name(Tone tone);

struct Point {
  double x_mm = 0.0, y_mm = 0.0;
};

/// A line through points, or an area where it is filled.
struct Stroke {
  std::vector<Point> points;
  Tone line = Tone::ink;
  double width_mm = 0.25;
  Tone fill = Tone::none;
  bool closed = false;
  double dash_mm = 0.0;  ///< length of dash and gap; 0: solid
  double fill_strength = 1.0;
};

struct Circle {
  Point centre;
  double radius_mm = 1.0;
  Tone line = Tone::ink;
  double width_mm = 0.25;
  Tone fill = Tone::none;
};

enum class Anchor : std::uint8_t { start, middle, end };
struct Text {
  Point at;  ///< on the base line
  std::string text;
  double size_mm = 2.6;
  Tone tone = Tone::ink;
  Anchor anchor = Anchor::start;
  bool bold = false;
};

struct Drawing {
  double width_mm = 0.0, height_mm = 0.0;
  std::string title;                                      ///< said to those who cannot see it
  std::vector<std::variant<Stroke, Circle, Text>> items;  ///< drawn in this order

  void add_stroke(Stroke stroke) { items.emplace_back(std::move(stroke)); }
  void add_circle(Circle circle) { items.emplace_back(circle); }

  void line(Point a, Point b, Tone tone = Tone::ink, double width_mm = 0.25, double dash_mm = 0.0);
  void box(Point corner, double width_mm, double height_mm, Tone line, double line_mm,
           Tone fill = Tone::none);
  void write(Point at, std::string text, double size_mm, Tone tone = Tone::ink,
             Anchor anchor = Anchor::start, bool bold = false);
};

/// For a page that draws it: {"width_mm", "height_mm", "title", "items": [{"kind": "stroke" |
/// "circle" | "text", …}]}, tones by name.
[[nodiscard]] base::Json to_json(const Drawing& drawing);

}  // namespace drawing
