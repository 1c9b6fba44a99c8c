// SPDX-License-Identifier: Apache-2.0
#include "book/labels.hpp"

#include <algorithm>
#include <map>
#include <memory>

#include <fmt/format.h>
#include <qrencode.h>

#include "base/check.hpp"
#include "base/figure.hpp"

namespace book {
namespace {

using drawing::Anchor;
using drawing::Drawing;
using drawing::Tone;

constexpr double label_width_mm = 56.0, height_mm = 32.0, code_mm = 22.0;
constexpr int across = 3, quiet_modules = 4;

std::string conditions_of(const works::CellResult& c) {
  if (!c.conditions) return "";
  std::string text =
      fmt::format("{:.0f} A to {:.2f} V", c.conditions->current_A, c.conditions->end_V);
  if (c.temperature_C) text += fmt::format(", {:.0f} °C", c.temperature_C->value);
  return text;
}

Drawing draw_label(const works::CellResult& c, const std::optional<bool>& plus_far) {
  Drawing d;
  d.width_mm = label_width_mm;
  d.height_mm = height_mm;
  d.title = fmt::format("Label of {}", c.label);
  d.box({0.2, 0.2}, label_width_mm - 0.4, height_mm - 0.4, Tone::rule, 0.2);
  d.write({2.5, 7.5}, c.label, 5.4, Tone::ink, Anchor::start, true);
  d.write({2.5, 13.5}, c.place.empty() ? "no place" : c.place, 4.2, Tone::copper, Anchor::start,
          true);
  if (c.capacity_Ah) d.write({2.5, 18.8}, base::show(*c.capacity_Ah), 3.0);
  d.write({2.5, 22.6}, conditions_of(c), 2.3, Tone::quiet);
  if (c.resistance_mOhm)
    d.write({2.5, 26.0}, base::show(*c.resistance_mOhm) + " DC", 2.3, Tone::quiet);
  if (plus_far)
    d.write({2.5, 30.0},
            *plus_far ? "plus away from the box's front" : "plus towards the box's front", 2.3,
            Tone::brick, Anchor::start, true);
  const Drawing code = draw_code(label_code(c), code_mm);
  for (auto item : code.items) {
    auto& stroke = std::get<drawing::Stroke>(item);
    for (drawing::Point& p : stroke.points) p.x_mm += label_width_mm - code_mm - 2.0, p.y_mm += 2.0;
    d.add_stroke(std::move(stroke));
  }
  return d;
}

}  // namespace

std::string label_code(const works::CellResult& c) {
  std::string text = "cell " + c.label;
  if (!c.place.empty()) text += "; place " + c.place;
  if (c.capacity_Ah) text += "; " + base::show(*c.capacity_Ah);
  if (const std::string how = conditions_of(c); !how.empty()) text += " at " + how;
  return text;
}

Drawing draw_code(const std::string& text, double side_mm) {
  const std::unique_ptr<QRcode, void (*)(QRcode*)> code(
      QRcode_encodeString8bit(text.c_str(), 0, QR_ECLEVEL_M), QRcode_free);
  CHECK(code != nullptr, "the text of a label is too long for a code");
  Drawing d;
  d.width_mm = d.height_mm = side_mm;
  d.title = text;
  const double module_mm = side_mm / double(code->width + 2 * quiet_modules);
  const auto square = [&](double x, double y, double w, double h, Tone tone) {
    d.add_stroke({.points = {{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}},
                  .line = Tone::none,
                  .fill = tone,
                  .closed = true});
  };
  square(0.0, 0.0, side_mm, side_mm, Tone::sheet);
  for (int row = 0; row < code->width; ++row)
    for (int column = 0; column < code->width;) {
      const auto dark = [&](int k) { return (code->data[row * code->width + k] & 1) != 0; };
      if (!dark(column)) {
        ++column;
        continue;
      }
      int end = column;  // modules side by side are one bar, so that no seam shows
      while (end < code->width && dark(end)) ++end;
      square((column + quiet_modules) * module_mm, (row + quiet_modules) * module_mm,
             (end - column) * module_mm, module_mm * 1.02, Tone::ink);
      column = end;
    }
  return d;
}

Document compose_labels(const project::Project& project, const works::Plan& plan,
                        const std::string& printed_on) {
  Document d;
  d.title = project.about.name();
  d.subtitle = "Labels of the cells";
  d.foot = d.title + (printed_on.empty() ? "" : " · printed " + printed_on);
  d.sheets_only = true;
  std::map<std::string, bool> plus_far;  // by place in the pack: "07", "07b"
  if (plan.box)
    for (const layout::Slot& s : plan.box->slots) {
      const std::string place = layout::place_name(0, s.group, s.member, project.layout.parallel());
      plus_far[place.substr(place.find('-') + 1)] = s.positive_far;
    }
  std::map<std::string, std::vector<const works::CellResult*>> sheets;
  for (const works::CellResult& c : plan.cells) {
    const std::size_t dash = c.place.find('-');
    const std::string sheet = dash != std::string::npos ? "Pack " + c.place.substr(0, dash)
                              : c.place == "spare"      ? "Spares"
                                                        : "";
    if (!sheet.empty()) sheets[sheet].push_back(&c);
  }
  for (auto& [title, cells] : sheets) {
    std::sort(cells.begin(), cells.end(), [](const auto* a, const auto* b) {
      return a->place != b->place ? a->place < b->place : a->label < b->label;
    });
    Plate plate{{}, "", across};
    for (const works::CellResult* c : cells) {
      const std::size_t dash = c->place.find('-');
      std::optional<bool> far;
      if (dash != std::string::npos)
        if (const auto found = plus_far.find(c->place.substr(dash + 1)); found != plus_far.end())
          far = found->second;
      plate.drawings.push_back(draw_label(*c, far));
    }
    Section section{title, {}, true};
    section.blocks.emplace_back(std::move(plate));
    Paragraph remark;
    remark.text =
        "Stick a label where it is read from above. Before a bar goes on: check the sign at both "
        "terminals with a meter; a label may be on the wrong cell.";
    remark.quiet = true;
    section.blocks.emplace_back(std::move(remark));
    d.sections.push_back(std::move(section));
  }
  return d;
}

}  // namespace book
