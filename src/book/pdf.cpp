// SPDX-License-Identifier: Apache-2.0
#include "book/pdf.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <utility>

#include <cairo-pdf.h>
#include <fmt/format.h>
#include <pango/pangocairo.h>

#include "base/check.hpp"

namespace book {
namespace {

using drawing::Tone;

constexpr double pt_per_mm = 72.0 / 25.4;
constexpr double page_w = 595.28, page_h = 841.89;  // A4
constexpr double left_margin = 62.0, right_margin = 57.0, top_margin = 66.0, bottom_margin = 66.0;
constexpr double text_w = page_w - left_margin - right_margin;

constexpr const char* serif = "Linux Libertine O, DejaVu Serif, serif";
constexpr const char* sans = "Linux Biolinum O, DejaVu Sans, sans-serif";

struct Rgb {
  double r, g, b;
};
constexpr Rgb from_hex(unsigned hex) {
  return {((hex >> 16) & 255) / 255.0, ((hex >> 8) & 255) / 255.0, (hex & 255) / 255.0};
}

Rgb colour(Tone tone) {
  switch (tone) {
    case Tone::quiet:
      return from_hex(0x6B6459);
    case Tone::rule:
      return from_hex(0xD3C9B8);
    case Tone::copper:
      return from_hex(0xA4531F);
    case Tone::moss:
      return from_hex(0x3F6B3A);
    case Tone::amber:
      return from_hex(0x8A5A00);
    case Tone::brick:
      return from_hex(0xA1302B);
    case Tone::paper:
    case Tone::sheet:
      return from_hex(0xFFFFFF);
    case Tone::ink:
    case Tone::none:
      break;
  }
  return from_hex(0x22201C);
}

Tone tone_of(findings::Severity severity) {
  return severity == findings::Severity::stop      ? Tone::brick
         : severity == findings::Severity::caution ? Tone::amber
                                                   : Tone::quiet;
}

enum class Weight { normal, semibold };
enum class Slant { upright, italic };
struct Style {
  const char* family = serif;
  double size = 10.6;
  Weight weight = Weight::normal;
  Slant slant = Slant::upright;
  double spacing = 1.0;  ///< of lines, times the font's own
};

struct Release {
  void operator()(PangoLayout* p) const { g_object_unref(p); }
};
using LayoutPointer = std::unique_ptr<PangoLayout, Release>;

cairo_status_t append(void* closure, const unsigned char* data, unsigned length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

/// What the first pass learns for the contents.
struct Entry {
  std::string title;
  int page = 0;  ///< first page
  int last_page = 0;
  double filled = 1.0;  ///< share of the last page
  double tight = 1.0;   ///< factor on sizes that keeps a few lines from taking a page of their own
};

/// Sets the document page after page. Two passes are made: the first to learn the page numbers.
class Setter {
 public:
  Setter(const Document& document, std::vector<Entry> known)
      : doc_(document), known_(std::move(known)) {
    surface_ = cairo_pdf_surface_create_for_stream(append, &bytes_, page_w, page_h);
    cr_ = cairo_create(surface_);
    cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_TITLE,
                                   (document.title + ": " + document.subtitle).c_str());
    cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_CREATOR, "Packhouse");
    cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_CREATE_DATE,
                                   "2000-01-01T00:00:00Z");
    cairo_pdf_surface_set_metadata(surface_, CAIRO_PDF_METADATA_MOD_DATE, "2000-01-01T00:00:00Z");
  }
  ~Setter() {
    cairo_destroy(cr_);
    cairo_surface_destroy(surface_);
  }
  Setter(const Setter&) = delete;
  Setter& operator=(const Setter&) = delete;

  void run() {
    if (!doc_.sheets_only) {
      cover();
      if (doc_.sections.size() > 2) contents();  // a page that lists one sheet helps nobody
    }
    for (const Section& section : doc_.sections) set(section);
    end_page();
    cairo_surface_finish(surface_);
    CHECK(cairo_surface_status(surface_) == CAIRO_STATUS_SUCCESS);
  }
  [[nodiscard]] const std::vector<Entry>& entries() const { return found_; }
  [[nodiscard]] std::string take_bytes() { return std::move(bytes_); }

 private:
  // --- text
  // --------------------------------------------------------------------------------------------

  LayoutPointer layout(const std::string& text, const Style& style, double width,
                       PangoAlignment align = PANGO_ALIGN_LEFT) const {
    LayoutPointer l(pango_cairo_create_layout(cr_));
    PangoFontDescription* font = pango_font_description_new();
    pango_font_description_set_family(font, style.family);
    pango_font_description_set_absolute_size(font, style.size * tight_ * PANGO_SCALE);
    pango_font_description_set_weight(
        font, style.weight == Weight::semibold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_style(
        font, style.slant == Slant::italic ? PANGO_STYLE_ITALIC : PANGO_STYLE_NORMAL);
    pango_layout_set_font_description(l.get(), font);
    pango_font_description_free(font);
    if (width > 0.0) {
      pango_layout_set_width(l.get(), static_cast<int>(width * PANGO_SCALE));
      pango_layout_set_wrap(l.get(), PANGO_WRAP_WORD_CHAR);
    }
    pango_layout_set_alignment(l.get(), align);
    pango_layout_set_line_spacing(l.get(), static_cast<float>(style.spacing));
    PangoAttrList* attributes = pango_attr_list_new();
    pango_attr_list_insert(attributes, pango_attr_font_features_new("tnum, lnum"));
    pango_layout_set_attributes(l.get(), attributes);
    pango_attr_list_unref(attributes);
    pango_layout_set_text(l.get(), text.c_str(), static_cast<int>(text.size()));
    return l;
  }

  static double height_of(PangoLayout* l) {
    int w = 0, h = 0;
    pango_layout_get_size(l, &w, &h);
    return double(h) / PANGO_SCALE;
  }
  static double width_of(PangoLayout* l) {
    int w = 0, h = 0;
    pango_layout_get_size(l, &w, &h);
    return double(w) / PANGO_SCALE;
  }

  void ink(Tone tone, double alpha = 1.0) {
    const Rgb c = colour(tone);
    cairo_set_source_rgba(cr_, c.r, c.g, c.b, alpha);
  }

  void show(PangoLayout* l, double x, double y, Tone tone = Tone::ink) {
    ink(tone);
    cairo_move_to(cr_, x, y);
    pango_cairo_show_layout(cr_, l);
  }

  /// One line of text with its base line at y.
  double show_line(const std::string& text, const Style& style, double x, double base_y, Tone tone,
                   PangoAlignment align = PANGO_ALIGN_LEFT) {
    const LayoutPointer l = layout(text, style, 0.0);
    const double w = width_of(l.get());
    const double from = align == PANGO_ALIGN_RIGHT    ? x - w
                        : align == PANGO_ALIGN_CENTER ? x - w / 2.0
                                                      : x;
    ink(tone);
    cairo_move_to(cr_, from, base_y);
    pango_cairo_show_layout_line(cr_, pango_layout_get_line_readonly(l.get(), 0));
    return w;
  }

  // --- pages
  // -------------------------------------------------------------------------------------------

  void begin_page() {
    ++page_;
    open_ = true;
    y_ = top_margin;
    if (page_ == 1) return;
    const double tight = std::exchange(tight_, 1.0);
    show_line(doc_.foot, {sans, 8.4}, left_margin, page_h - 38.0, Tone::quiet);
    show_line(std::to_string(page_), {sans, 9.0}, page_w - right_margin, page_h - 38.0, Tone::ink,
              PANGO_ALIGN_RIGHT);
    if (!running_.empty())
      show_line(running_, {sans, 8.4}, page_w - right_margin, 40.0, Tone::quiet, PANGO_ALIGN_RIGHT);
    tight_ = tight;
  }
  void end_page() {
    if (open_) cairo_show_page(cr_);
    open_ = false;
  }
  void new_page() {
    end_page();
    begin_page();
  }
  [[nodiscard]] double room() const { return page_h - bottom_margin - y_; }
  void need(double height) {
    if (!open_) begin_page();
    if (height > room()) new_page();
  }
  void rule(double x, double y, double w, Tone tone, double thick) {
    ink(tone);
    cairo_set_line_width(cr_, thick);
    cairo_move_to(cr_, x, y);
    cairo_line_to(cr_, x + w, y);
    cairo_stroke(cr_);
  }

  // --- front matter
  // ------------------------------------------------------------------------------------

  void cover() {
    begin_page();
    rule(left_margin, 96.0, text_w, Tone::copper, 2.2);
    show_line(doc_.subtitle, {sans, 12.5}, left_margin, 122.0, Tone::quiet);
    const LayoutPointer title =
        layout(doc_.title, {serif, 40.0, Weight::normal, Slant::upright, 0.95}, text_w);
    show(title.get(), left_margin, 138.0);
    double y = 138.0 + height_of(title.get()) + 20.0;
    for (const std::string& line : doc_.cover_lines) {
      const LayoutPointer l =
          layout(line, {serif, 12.0, Weight::normal, Slant::italic, 1.05}, text_w * 0.86);
      show(l.get(), left_margin, y, Tone::quiet);
      y += height_of(l.get()) + 4.0;
    }
    y_ = y + 24.0;
    key_figures({doc_.cover_figures});
    if (!doc_.cover_drawing.empty()) {
      const drawing::Drawing& d = doc_.cover_drawing.front();
      const double room_h = page_h - bottom_margin - y_ - 16.0;
      const double scale =
          std::min(text_w / (d.width_mm * pt_per_mm), room_h / (d.height_mm * pt_per_mm));
      draw(d, left_margin + (text_w - d.width_mm * pt_per_mm * scale) / 2.0,
           page_h - bottom_margin - d.height_mm * pt_per_mm * scale, scale);
    }
    end_page();
  }

  void contents() {
    running_ = "";
    begin_page();
    heading_1("Contents", false);
    y_ += 6.0;
    for (const Entry& e : known_) {
      const double base_y = y_ + 12.0;
      cairo_tag_begin(cr_, CAIRO_TAG_LINK, fmt::format("dest='section-{}'", e.page).c_str());
      const double w = show_line(e.title, {serif, 12.4}, left_margin, base_y, Tone::ink);
      cairo_tag_end(cr_, CAIRO_TAG_LINK);
      const double n = show_line(std::to_string(e.page), {sans, 11.4}, page_w - right_margin,
                                 base_y, Tone::ink, PANGO_ALIGN_RIGHT);
      ink(Tone::rule);
      const double dots[] = {0.8, 3.2};
      cairo_save(cr_);
      cairo_set_dash(cr_, dots, 2, 0.0);
      cairo_set_line_width(cr_, 0.8);
      cairo_move_to(cr_, left_margin + w + 8.0, base_y - 1.0);
      cairo_line_to(cr_, page_w - right_margin - n - 8.0, base_y - 1.0);
      cairo_stroke(cr_);
      cairo_restore(cr_);
      y_ += 23.0;
    }
    end_page();
  }

  // --- blocks
  // ------------------------------------------------------------------------------------------

  void heading_1(const std::string& text, bool entry) {
    if (entry) {
      found_.push_back({text, page_, page_, 1.0, tight_});
      cairo_tag_begin(cr_, CAIRO_TAG_DEST, fmt::format("name='section-{}'", page_).c_str());
      cairo_tag_end(cr_, CAIRO_TAG_DEST);
      cairo_pdf_surface_add_outline(
          surface_, CAIRO_PDF_OUTLINE_ROOT, text.c_str(),
          fmt::format("page={} pos=[{} {}]", page_, left_margin, y_).c_str(),
          static_cast<cairo_pdf_outline_flags_t>(0));
    }
    const LayoutPointer l =
        layout(text, {serif, 25.0, Weight::normal, Slant::upright, 0.95}, text_w);
    show(l.get(), left_margin, y_ - 8.0);
    y_ += height_of(l.get()) - 2.0;
    rule(left_margin, y_, 46.0, Tone::copper, 1.6);
    y_ += 14.0;
  }

  void set(const Section& section) {
    running_ = "";
    tight_ = 1.0;
    if (section.own_page || !open_) new_page();
    running_ = section.title;
    tight_ = known_[found_.size()].tight;
    if (!std::holds_alternative<Card>(section.blocks.front()))
      heading_1(section.title, true);
    else
      found_.push_back({section.title, page_, page_, 1.0, tight_});
    for (std::size_t i = 0; i < section.blocks.size(); ++i) {
      // A heading stays with what follows it.
      if (std::holds_alternative<Heading>(section.blocks[i])) {
        double follow = 54.0;
        if (i + 1 < section.blocks.size())
          if (const auto* plate = std::get_if<Plate>(&section.blocks[i + 1]))
            follow = plate_row_height(*plate);
        need(30.0 + std::min(follow, 420.0));
      }
      std::visit([this](const auto& block) { set(block); }, section.blocks[i]);
    }
    found_.back().last_page = page_;
    found_.back().filled = (y_ - top_margin) / (page_h - top_margin - bottom_margin);
  }

  void set(const Heading& h) {
    y_ += 10.0 * tight_ * tight_;
    const LayoutPointer l = layout(h.text, {serif, 13.6, Weight::semibold}, text_w);
    show(l.get(), left_margin, y_);
    y_ += height_of(l.get()) + 4.0;
  }

  void set(const Paragraph& p) {
    const Style style = p.lead    ? Style{serif, 12.6, Weight::normal, Slant::upright, 1.08}
                        : p.quiet ? Style{serif, 9.4, Weight::normal, Slant::italic, 1.05}
                                  : Style{serif, 10.6, Weight::normal, Slant::upright, 1.08};
    const LayoutPointer l = layout(p.text, style, p.lead ? text_w * 0.94 : text_w);
    need(height_of(l.get()) + 4.0);
    show(l.get(), left_margin, y_, p.quiet ? Tone::quiet : Tone::ink);
    y_ += height_of(l.get()) + (p.lead ? 9.0 : 6.0);
  }

  void set(const KeyFigures& k) { key_figures(k); }
  void key_figures(const KeyFigures& k) {
    if (k.figures.empty()) return;
    const std::size_t per_row = k.figures.size() <= 4 ? k.figures.size() : 3;
    for (std::size_t first = 0; first < k.figures.size(); first += per_row) {
      need(58.0);
      const double w = text_w / double(per_row);
      rule(left_margin, y_ + 2.0, text_w, Tone::rule, 0.6);
      for (std::size_t i = first; i < std::min(first + per_row, k.figures.size()); ++i) {
        const KeyFigure& f = k.figures[i];
        const double x = left_margin + w * double(i - first);
        double at = x + show_line(f.value, {serif, 19.0}, x, y_ + 26.0, Tone::ink);
        if (!f.uncertainty.empty())
          at += 3.0 + show_line(f.uncertainty, {serif, 11.5}, at + 3.0, y_ + 26.0, Tone::quiet);
        show_line(f.unit, {sans, 10.0}, at + 4.0, y_ + 26.0, Tone::quiet);
        const LayoutPointer label = layout(f.label, {sans, 8.6}, w - 10.0);
        show(label.get(), x, y_ + 32.0, Tone::quiet);
      }
      y_ += 60.0;
    }
  }

  void set(const Table& t) {
    const Style head{sans, 8.4},
        body{sans, t.small ? 9.4 : 10.2, Weight::normal, Slant::upright, 1.0};
    const double gap = 9.0;
    const std::size_t n = t.columns.size();
    // Columns of numbers take what they need; columns of text share the rest by their shares.
    std::vector<double> widths(n, 0.0);
    double fixed = gap * double(n - 1), shares = 0.0;
    std::vector<bool> flexible(n, false);
    for (std::size_t c = 0; c < n; ++c) {
      double natural = width_of(layout(t.columns[c].head, head, 0.0).get());
      for (const auto& row : t.rows)
        if (c < row.size()) natural = std::max(natural, width_of(layout(row[c], body, 0.0).get()));
      flexible[c] = !t.columns[c].numeric && (natural > 92.0 || t.least_row_mm > 0.0);
      widths[c] = natural + 1.0;
      if (flexible[c])
        shares += t.columns[c].share;
      else
        fixed += widths[c];
    }
    for (std::size_t c = 0; c < n; ++c)
      if (flexible[c]) widths[c] = std::max(50.0, (text_w - fixed) * t.columns[c].share / shares);
    double total = gap * double(n - 1);
    for (const double w : widths) total += w;
    const double stretch = shares == 0.0 && total < text_w ? (text_w - total) / double(n) : 0.0;
    if (total > text_w)
      for (double& w : widths) w *= text_w / total;
    const auto draw_head = [&] {
      double tallest = 0.0;
      std::vector<LayoutPointer> heads;
      for (std::size_t c = 0; c < n; ++c) {
        heads.push_back(layout(t.columns[c].head, head, widths[c] + stretch,
                               t.columns[c].numeric ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT));
        tallest = std::max(tallest, height_of(heads.back().get()));
      }
      double x = left_margin;
      for (std::size_t c = 0; c < n; ++c) {
        show(heads[c].get(), x, y_ + tallest - height_of(heads[c].get()), Tone::quiet);
        x += widths[c] + stretch + gap;
      }
      y_ += tallest + 3.0;
      rule(left_margin, y_, text_w, Tone::quiet, 0.6);
      y_ += 3.0;
    };
    need(44.0);
    const bool headed = std::any_of(t.columns.begin(), t.columns.end(),
                                    [](const Column& c) { return !c.head.empty(); });
    if (headed) draw_head();
    for (const auto& row : t.rows) {
      std::vector<LayoutPointer> fields;
      double tallest = 0.0;
      for (std::size_t c = 0; c < n; ++c) {
        fields.push_back(layout(c < row.size() ? row[c] : "", body, widths[c] + stretch,
                                t.columns[c].numeric ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT));
        tallest =
            std::max({tallest, height_of(fields.back().get()), t.least_row_mm * pt_per_mm - 3.4});
      }
      if (tallest + 4.0 > room()) {
        new_page();
        if (headed) draw_head();
      }
      double x = left_margin;
      for (std::size_t c = 0; c < n; ++c) {
        if (row.size() > c && row[c] == "☐")
          tick_box(x + 1.0, y_ + 2.0, 7.5);
        else
          show(fields[c].get(), x, y_ + 1.0);
        x += widths[c] + stretch + gap;
      }
      y_ += tallest + 3.4 * tight_ * tight_;
      rule(left_margin, y_ - 0.9, text_w, t.least_row_mm > 0.0 ? Tone::quiet : Tone::rule, 0.4);
    }
    y_ += 8.0 * tight_ * tight_;
  }

  void tick_box(double x, double y, double size) {
    ink(Tone::quiet);
    cairo_set_line_width(cr_, 0.8);
    cairo_rectangle(cr_, x, y, size, size);
    cairo_stroke(cr_);
  }

  static double plate_scale(const Plate& p) {
    const double w = p.drawings.front().width_mm * pt_per_mm;
    const double space = (text_w - 8.0 * double(p.across - 1)) / double(p.across);
    const double tallest = 330.0;  // so that a drawing leaves room for what is said of it
    return std::min(space / w, tallest / (p.drawings.front().height_mm * pt_per_mm));
  }
  static double plate_row_height(const Plate& p) {
    return p.drawings.empty() ? 0.0
                              : p.drawings.front().height_mm * pt_per_mm * plate_scale(p) + 6.0;
  }

  void set(const Plate& p) {
    if (p.drawings.empty()) return;
    const double scale = plate_scale(p), row_h = plate_row_height(p);
    const double drawn_w = p.drawings.front().width_mm * pt_per_mm * scale, cell_w = drawn_w + 8.0;
    const double indent = p.across == 1 ? (text_w - drawn_w) / 2.0 : 0.0;
    for (std::size_t first = 0; first < p.drawings.size();
         first += static_cast<std::size_t>(p.across)) {
      need(row_h);
      for (std::size_t i = first;
           i < std::min(first + static_cast<std::size_t>(p.across), p.drawings.size()); ++i)
        draw(p.drawings[i], left_margin + indent + cell_w * double(i - first), y_, scale);
      y_ += row_h;
    }
    if (!p.caption.empty()) {
      y_ += 2.0;
      set(Paragraph{p.caption, false, true});
    }
  }

  void set(const Checks& c) {
    need(90.0);
    set(Heading{c.title});
    set(Paragraph{c.when, false, true});
    for (std::size_t i = 0; i < c.steps.size(); ++i) {
      const LayoutPointer l =
          layout(c.steps[i], {serif, 10.6, Weight::normal, Slant::upright, 1.04}, text_w - 150.0);
      const double h = std::max(height_of(l.get()), 17.0);
      need(h + 5.0);
      tick_box(left_margin + 1.0, y_ + 2.5, 9.0);
      show(l.get(), left_margin + 20.0, y_);
      const std::string who = i < c.signed_by.size() ? c.signed_by[i] : "";
      if (who.empty())
        rule(page_w - right_margin - 112.0, y_ + 13.0, 112.0, Tone::quiet, 0.5);
      else
        show_line(who, {sans, 9.0}, page_w - right_margin, y_ + 11.0, Tone::moss,
                  PANGO_ALIGN_RIGHT);
      y_ += h + 5.0;
    }
    y_ += 4.0;
  }

  /// Triangle, square or disc, each with its word: never colour alone.
  void mark(findings::Severity severity, double x, double y, double size) {
    ink(tone_of(severity));
    if (severity == findings::Severity::stop) {
      cairo_rectangle(cr_, x, y, size, size);
    } else if (severity == findings::Severity::caution) {
      cairo_move_to(cr_, x + size / 2.0, y);
      cairo_line_to(cr_, x + size, y + size);
      cairo_line_to(cr_, x, y + size);
      cairo_close_path(cr_);
    } else {
      cairo_arc(cr_, x + size / 2.0, y + size / 2.0, size / 2.0, 0.0, 6.2831853);
    }
    cairo_fill(cr_);
  }

  void set(const CautionBox& c) {
    const Style title_style{serif, 11.4, Weight::semibold, Slant::upright, 1.04},
        body{serif, 10.2, Weight::normal, Slant::upright, 1.06};
    const double inner = text_w - 24.0;
    const LayoutPointer title = layout(c.title, title_style, inner - 60.0);
    double height = height_of(title.get()) + 8.0;
    std::vector<LayoutPointer> lines;
    for (const std::string& line : c.lines) {
      lines.push_back(layout(line, body, inner));
      height += height_of(lines.back().get()) + 2.5;
    }
    need(std::min(height + 8.0, 500.0));
    const Tone tone = tone_of(c.severity);
    const double top = y_;
    mark(c.severity, left_margin + 0.5, y_ + 3.0, 8.0);
    show(title.get(), left_margin + 20.0, y_);
    show_line(std::string(tag(c)), {sans, 8.8}, page_w - right_margin, y_ + 10.0, tone,
              PANGO_ALIGN_RIGHT);
    y_ += height_of(title.get()) + 3.0;
    for (const LayoutPointer& l : lines) {
      if (height_of(l.get()) > room()) new_page();
      show(l.get(), left_margin + 20.0, y_);
      y_ += height_of(l.get()) + 2.5;
    }
    if (y_ > top) {
      ink(tone);
      cairo_set_line_width(cr_, 1.4);
      cairo_move_to(cr_, left_margin + 11.5, top + 15.0);
      cairo_line_to(cr_, left_margin + 11.5, y_ - 2.0);
      cairo_stroke(cr_);
    }
    y_ += 9.0 * tight_;
  }

  void set(const Numbered& n) {
    for (std::size_t i = 0; i < n.lines.size(); ++i) {
      const LayoutPointer l =
          layout(n.lines[i], {serif, 13.0, Weight::normal, Slant::upright, 1.1}, text_w - 34.0);
      need(height_of(l.get()) + 10.0);
      show_line(std::to_string(i + 1), {serif, 17.0}, left_margin + 18.0, y_ + 13.5, Tone::brick,
                PANGO_ALIGN_RIGHT);
      show(l.get(), left_margin + 34.0, y_);
      y_ += height_of(l.get()) + 10.0;
    }
    y_ += 4.0;
  }

  void set(const Card& c) {
    cairo_pdf_surface_add_outline(
        surface_, CAIRO_PDF_OUTLINE_ROOT, c.title.c_str(),
        fmt::format("page={} pos=[{} {}]", page_, left_margin, y_).c_str(),
        static_cast<cairo_pdf_outline_flags_t>(0));
    cairo_tag_begin(cr_, CAIRO_TAG_DEST, fmt::format("name='section-{}'", page_).c_str());
    cairo_tag_end(cr_, CAIRO_TAG_DEST);
    const double pad = 22.0, top = top_margin - 8.0, bottom = page_h - bottom_margin + 4.0;
    ink(Tone::brick);
    cairo_set_line_width(cr_, 2.6);
    cairo_rectangle(cr_, left_margin - 6.0, top, text_w + 12.0, bottom - top);
    cairo_stroke(cr_);
    y_ = top + pad;
    const LayoutPointer title = layout(c.title, {serif, 36.0, Weight::semibold}, text_w - 2 * pad);
    show(title.get(), left_margin + pad, y_, Tone::brick);
    y_ += height_of(title.get()) + 12.0;
    int number = 0;
    for (const std::string& step : c.steps) {
      show_line(fmt::format("{}", ++number), {serif, 20.0}, left_margin + pad, y_ + 17.0,
                Tone::brick);
      const LayoutPointer l = layout(step, {serif, 14.6, Weight::normal, Slant::upright, 1.05},
                                     text_w - 2 * pad - 30.0);
      show(l.get(), left_margin + pad + 30.0, y_);
      y_ += height_of(l.get()) + 9.0;
    }
    y_ += 8.0;
    for (const auto& [what, value] : c.facts) {
      rule(left_margin + pad, y_, text_w - 2 * pad, Tone::rule, 0.6);
      show_line(what, {sans, 11.0}, left_margin + pad, y_ + 17.0, Tone::quiet);
      const LayoutPointer l =
          layout(value, {serif, 13.0, Weight::semibold}, text_w - 2 * pad - 150.0);
      show(l.get(), left_margin + pad + 150.0, y_ + 4.0);
      y_ += std::max(26.0, height_of(l.get()) + 8.0);
    }
    const LayoutPointer foot =
        layout(c.foot, {serif, 10.0, Weight::normal, Slant::italic}, text_w - 2 * pad);
    show(foot.get(), left_margin + pad, bottom - pad - 4.0, Tone::quiet);
    y_ = bottom;
  }

  // --- drawings
  // ----------------------------------------------------------------------------------------

  void draw(const drawing::Drawing& d, double x, double y, double scale) {
    const double k = pt_per_mm * scale;
    cairo_save(cr_);
    cairo_translate(cr_, x, y);
    cairo_set_line_cap(cr_, CAIRO_LINE_CAP_ROUND);
    cairo_set_line_join(cr_, CAIRO_LINE_JOIN_ROUND);
    for (const auto& item : d.items)
      std::visit([&](const auto& shape) { draw_shape(shape, k); }, item);
    cairo_restore(cr_);
  }

  void draw_shape(const drawing::Stroke& s, double k) {
    if (s.points.empty()) return;
    cairo_new_path(cr_);
    for (const drawing::Point& p : s.points) cairo_line_to(cr_, p.x_mm * k, p.y_mm * k);
    if (s.closed) cairo_close_path(cr_);
    if (s.fill != Tone::none) {
      ink(s.fill, s.fill_strength);
      cairo_fill_preserve(cr_);
    }
    const double dash = s.dash_mm * k;
    cairo_set_dash(cr_, &dash, s.dash_mm > 0.0 ? 1 : 0, 0.0);
    outline(s.line, s.width_mm * k);
    cairo_set_dash(cr_, nullptr, 0, 0.0);
  }

  void draw_shape(const drawing::Circle& c, double k) {
    cairo_new_path(cr_);
    cairo_arc(cr_, c.centre.x_mm * k, c.centre.y_mm * k, c.radius_mm * k, 0.0, 6.283185307);
    if (c.fill != Tone::none) {
      ink(c.fill);
      cairo_fill_preserve(cr_);
    }
    outline(c.line, c.width_mm * k);
  }

  void draw_shape(const drawing::Text& t, double k) {
    const PangoAlignment align = t.anchor == drawing::Anchor::start ? PANGO_ALIGN_LEFT
                                 : t.anchor == drawing::Anchor::end ? PANGO_ALIGN_RIGHT
                                                                    : PANGO_ALIGN_CENTER;
    show_line(t.text, {sans, t.size_mm * k * 1.18, t.bold ? Weight::semibold : Weight::normal},
              t.at.x_mm * k, t.at.y_mm * k, t.tone, align);
  }

  void outline(Tone tone, double width) {
    if (tone == Tone::none || width <= 0.0) {
      cairo_new_path(cr_);
      return;
    }
    ink(tone);
    cairo_set_line_width(cr_, width);
    cairo_stroke(cr_);
  }

  const Document& doc_;
  std::vector<Entry> known_, found_;
  std::string bytes_, running_;
  cairo_surface_t* surface_ = nullptr;
  cairo_t* cr_ = nullptr;
  int page_ = 0;
  bool open_ = false;
  double y_ = 0.0, tight_ = 1.0;
};

}  // namespace

std::string to_pdf(const Document& document) {
  std::vector<Entry> entries;
  for (const Section& s : document.sections) entries.push_back({s.title, 0, 0, 1.0, 1.0});
  const auto pass = [&](const std::vector<Entry>& known) {
    Setter setter(document, known);
    setter.run();
    return setter.entries();
  };
  // Where a section runs a few lines over onto a page of their own, set it a little tighter, if
  // that helps.
  entries = pass(entries);
  for (const double tight : {0.965, 0.93, 0.895}) {
    std::vector<Entry> trial = entries;
    bool any = false;
    for (Entry& e : trial)
      if (e.last_page > e.page && e.filled < 0.24) e.tight = tight, any = true;
    if (!any) break;
    const std::vector<Entry> result = pass(trial);
    for (std::size_t i = 0; i < entries.size(); ++i)
      if (result[i].last_page - result[i].page < entries[i].last_page - entries[i].page)
        entries[i] = result[i];
  }
  entries = pass(entries);  // page numbers for the contents
  Setter last(document, entries);
  last.run();
  return last.take_bytes();
}

}  // namespace book
