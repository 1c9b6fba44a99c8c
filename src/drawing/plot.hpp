// SPDX-License-Identifier: Apache-2.0
// Fine ink lines with direct labels instead of legends.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "drawing/drawing.hpp"

namespace drawing {

struct Series {
  std::vector<Point> values;  ///< x and y in the plot's own units
  std::string label;          ///< written at its end; empty: none
  Tone tone = Tone::ink;
  double width_mm = 0.3;
  double dash_mm = 0.0;
};

struct Plot {
  double width_mm = 160.0, height_mm = 57.0;
  std::string title, x_label, y_label;
  double x_low = 0.0, x_high = 1.0, y_low = 0.0, y_high = 1.0;
  std::vector<Series> series;
  std::vector<Point> band_low, band_high;  ///< an area between two lines; may be empty
  double y_mark = 0.0;  ///< a dashed level, drawn where `mark_label` is not empty
  std::string mark_label;
};
[[nodiscard]] Drawing draw(const Plot& plot);
/// A plot as wide as a page's text, with its words.
[[nodiscard]] Plot page_plot(std::string title, std::string x_label, std::string y_label);

/// One small curve among many on equal axes: the lot's other curves stay quiet behind it.
struct SmallCurve {
  std::string label, note;
  Tone note_tone = Tone::quiet;
  std::vector<Point> values;
  std::vector<Point> typical;  ///< drawn quietly behind
  double x_high = 1.0, y_low = 2.5, y_high = 3.5;
};
[[nodiscard]] Drawing draw(const SmallCurve& curve, double width_mm, double height_mm);

/// Bars from a value now to what it would be lower and higher, the widest first.
struct Bars {
  struct Bar {
    std::string label;
    double low = 0.0, high = 0.0;
  };
  double width_mm = 160.0, left_mm = 62.0;
  std::string title, unit;
  double now = 0.0;
  std::vector<Bar> bars;
  std::optional<double> mark;  ///< a level to look at, dashed
};
[[nodiscard]] Drawing draw(const Bars& bars);

/// Round steps that cut a range into some `wanted` parts.
[[nodiscard]] std::vector<double> ticks(double low, double high, int wanted);

}  // namespace drawing
