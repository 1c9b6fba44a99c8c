// SPDX-License-Identifier: Apache-2.0
#include "drawing/plot.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/figure.hpp"

namespace drawing {
namespace {

/// Where the plot's own units fall on the paper.
struct Frame {
  double left, top, width, height, x_low, x_high, y_low, y_high;
  [[nodiscard]] Point at(Point v) const {
    const double x = (v.x_mm - x_low) / (x_high - x_low), y = (v.y_mm - y_low) / (y_high - y_low);
    return {left + width * std::clamp(x, 0.0, 1.0), top + height * (1.0 - std::clamp(y, 0.0, 1.0))};
  }
};

std::vector<Point> placed(const std::vector<Point>& values, const Frame& frame) {
  std::vector<Point> result;
  result.reserve(values.size());
  for (const Point& v : values) result.push_back(frame.at(v));
  return result;
}

int decimals_of(double step) {
  return step >= 1.0 ? 0 : static_cast<int>(std::ceil(-std::log10(step) - 1e-9));
}

}  // namespace

std::vector<double> ticks(double low, double high, int wanted) {
  const double raw = (high - low) / std::max(1, wanted);
  const double power = std::pow(10.0, std::floor(std::log10(raw)));
  double step = 10.0 * power;
  for (const double m : {1.0, 2.0, 5.0})
    if (m * power >= raw * 0.999) {
      step = m * power;
      break;
    }
  std::vector<double> result;
  for (double t = std::ceil(low / step - 1e-9) * step; t <= high + 1e-9 * step; t += step)
    result.push_back(t);
  return result;
}

Plot page_plot(std::string title, std::string x_label, std::string y_label) {
  Plot plot;
  plot.title = std::move(title), plot.x_label = std::move(x_label);
  plot.y_label = std::move(y_label);
  return plot;
}

Drawing draw(const Plot& plot) {
  Drawing d;
  d.width_mm = plot.width_mm;
  d.height_mm = plot.height_mm;
  d.title = plot.title;
  const Frame frame{11.0,
                    5.0,
                    plot.width_mm - 11.0 - 30.0,
                    plot.height_mm - 5.0 - 10.0,
                    plot.x_low,
                    plot.x_high,
                    plot.y_low,
                    plot.y_high};
  const auto xs = ticks(plot.x_low, plot.x_high, 8), ys = ticks(plot.y_low, plot.y_high, 5);
  const double bottom = frame.top + frame.height;
  for (const double y : ys) {
    const Point p = frame.at({plot.x_low, y});
    d.line(p, {frame.left + frame.width, p.y_mm}, Tone::rule, 0.15);
    d.write({frame.left - 1.5, p.y_mm + 0.9},
            base::fixed(y, decimals_of(ys.size() > 1 ? ys[1] - ys[0] : 1.0)), 2.5, Tone::quiet,
            Anchor::end);
  }
  for (const double x : xs) {
    const Point p = frame.at({x, plot.y_low});
    d.line({p.x_mm, bottom}, {p.x_mm, bottom + 1.0}, Tone::quiet, 0.15);
    d.write({p.x_mm, bottom + 4.2},
            base::fixed(x, decimals_of(xs.size() > 1 ? xs[1] - xs[0] : 1.0)), 2.5, Tone::quiet,
            Anchor::middle);
  }
  d.line({frame.left, bottom}, {frame.left + frame.width, bottom}, Tone::quiet, 0.2);
  d.write({frame.left + frame.width, bottom + 8.2}, plot.x_label, 2.6, Tone::quiet, Anchor::end);
  d.write({frame.left - 9.0, frame.top - 2.0}, plot.y_label, 2.6, Tone::quiet);
  if (!plot.band_low.empty()) {
    std::vector<Point> area = placed(plot.band_high, frame), low = placed(plot.band_low, frame);
    area.insert(area.end(), low.rbegin(), low.rend());
    d.add_stroke({std::move(area), Tone::none, 0.0, Tone::copper, true, 0.0, 0.16});
  }
  // What is written at the lines' ends, moved apart where it would lie on top of each other.
  struct EndLabel {
    Point at;
    std::string text;
    Tone tone;
  };
  std::vector<EndLabel> labels;
  if (!plot.mark_label.empty()) {
    const Point p = frame.at({plot.x_low, plot.y_mark});
    d.line(p, {frame.left + frame.width, p.y_mm}, Tone::brick, 0.25, 1.2);
    labels.push_back(
        {{frame.left + frame.width + 1.5, p.y_mm + 0.9}, plot.mark_label, Tone::brick});
  }
  for (const Series& s : plot.series) {
    if (s.values.empty()) continue;
    d.add_stroke({placed(s.values, frame), s.tone, s.width_mm, Tone::none, false, s.dash_mm, 1.0});
    const Point end = frame.at(s.values.back());
    if (!s.label.empty()) labels.push_back({{end.x_mm + 1.5, end.y_mm + 0.9}, s.label, s.tone});
  }
  constexpr double apart_mm = 3.1;  // a line of this size
  std::stable_sort(labels.begin(), labels.end(),
                   [](const EndLabel& a, const EndLabel& b) { return a.at.y_mm < b.at.y_mm; });
  for (std::size_t i = 0; i < labels.size(); ++i) {
    if (i > 0) labels[i].at.y_mm = std::max(labels[i].at.y_mm, labels[i - 1].at.y_mm + apart_mm);
    d.write(labels[i].at, labels[i].text, 2.5, labels[i].tone);
  }
  return d;
}

Drawing draw(const SmallCurve& c, double width_mm, double height_mm) {
  Drawing d;
  d.width_mm = width_mm;
  d.height_mm = height_mm;
  d.title = "Discharge curve of " + c.label;
  const Frame frame{0.5, 4.6, width_mm - 1.5, height_mm - 6.0, 0.0, c.x_high, c.y_low, c.y_high};
  const double bottom = frame.top + frame.height;
  d.line({frame.left, bottom}, {frame.left + frame.width, bottom}, Tone::rule, 0.2);
  if (c.typical.size() > 1)
    d.add_stroke({placed(c.typical, frame), Tone::rule, 0.5, Tone::none, false, 0.0, 1.0});
  if (c.values.size() > 1) {
    d.add_stroke({placed(c.values, frame), Tone::ink, 0.25, Tone::none, false, 0.0, 1.0});
    const Point end = frame.at(c.values.back());
    d.add_circle(
        {end, 0.45, Tone::none, 0.0, c.note_tone == Tone::quiet ? Tone::ink : c.note_tone});
  }
  d.write({frame.left, 3.0}, c.label, 2.7, Tone::ink, Anchor::start, true);
  d.write({width_mm - 1.0, 3.0}, c.note, 2.5, c.note_tone, Anchor::end);
  return d;
}

Drawing draw(const Bars& b) {
  Drawing d;
  constexpr double row = 6.0, top = 4.0;
  const double wide = b.width_mm - b.left_mm - 14.0, bottom = top + row * double(b.bars.size());
  d.width_mm = b.width_mm;
  d.height_mm = bottom + 9.0;
  d.title = b.title;
  double low = b.now, high = b.now;
  if (b.mark) low = std::min(low, *b.mark), high = std::max(high, *b.mark);
  for (const Bars::Bar& bar : b.bars) {
    low = std::min({low, bar.low, bar.high});
    high = std::max({high, bar.low, bar.high});
  }
  const double span = std::max(1e-9, high - low);
  const auto at = [&](double v) { return b.left_mm + wide * (v - low) / span; };
  const auto steps = ticks(low, high, 5);
  for (const double t : steps) {
    d.line({at(t), top}, {at(t), bottom}, Tone::rule, 0.15);
    d.write({at(t), bottom + 4.2},
            base::fixed(t + 0.0, decimals_of(steps.size() > 1 ? steps[1] - steps[0] : 1.0)), 2.5,
            Tone::quiet, Anchor::middle);
  }
  double y = top;
  for (const Bars::Bar& bar : b.bars) {
    d.write({b.left_mm - 3.0, y + 4.0}, bar.label, 2.6, Tone::ink, Anchor::end);
    const auto box = [&](double to, Tone tone) {
      const double from = std::min(at(b.now), at(to)), until = std::max(at(b.now), at(to));
      if (until - from > 0.05) d.box({from, y + 1.2}, until - from, row - 2.4, tone, 0.15, tone);
    };
    box(bar.low, Tone::copper);
    box(bar.high, Tone::ink);
    y += row;
  }
  d.line({at(b.now), top - 1.0}, {at(b.now), bottom}, Tone::brick, 0.3);
  if (b.mark) d.line({at(*b.mark), top - 1.0}, {at(*b.mark), bottom}, Tone::brick, 0.25, 1.2);
  d.write({b.width_mm, bottom + 8.0}, b.unit, 2.6, Tone::quiet, Anchor::end);
  return d;
}

}  // namespace drawing
