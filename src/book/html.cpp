// SPDX-License-Identifier: Apache-2.0
#include "book/html.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace book {
namespace {

/// Text made inert: it can come from a label that somebody typed.
std::string escaped(std::string_view text) {
  std::string result;
  for (const char c : text) {
    switch (c) {
      case '&':
        result += "&amp;";
        break;
      case '<':
        result += "&lt;";
        break;
      case '>':
        result += "&gt;";
        break;
      case '"':
        result += "&quot;";
        break;
      case '\'':
        result += "&#39;";
        break;
      default:
        if (static_cast<unsigned char>(c) >= 0x20 || c == '\n' || c == '\t') result += c;
    }
  }
  return result;
}

constexpr std::string_view style_sheet = R"css(
:root{--paper:#FBF8F2;--sheet:#FFFFFF;--ink:#22201C;--quiet:#6B6459;--rule:#DDD5C7;--copper:#A4531F;--moss:#3F6B3A;--amber:#8A5A00;--brick:#A1302B;
--serif:"Linux Libertine O",ui-serif,"DejaVu Serif",serif;--sans:"Linux Biolinum O",ui-sans-serif,system-ui,"DejaVu Sans",sans-serif}
@media (prefers-color-scheme:dark){:root{--paper:#171512;--sheet:#1F1C18;--ink:#EDE7DC;--quiet:#A79E90;--rule:#3A352E;--copper:#E09A63;--moss:#8FBF86;--amber:#E0B25A;--brick:#F08A80}}
*{box-sizing:border-box}html{background:var(--paper);color:var(--ink);-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:60rem;padding:2.5rem 1.25rem 5rem;font:1.0625rem/1.5 var(--serif);font-variant-numeric:tabular-nums}
header{border-top:3px solid var(--copper);padding-top:1.25rem;margin-bottom:3rem}
header p.sub{font-family:var(--sans);color:var(--quiet);margin:0 0 .25rem}
h1{font-weight:400;font-size:2.5rem;line-height:1.08;margin:0 0 1rem}
header p.line{font-style:italic;color:var(--quiet);margin:.25rem 0;max-width:38rem}
nav ol{list-style:none;padding:0;margin:2rem 0 0;columns:2;column-gap:3rem}nav li{break-inside:avoid;border-bottom:1px solid var(--rule)}
nav a{display:block;min-height:2rem;padding:.375rem 0;color:inherit;text-decoration:none}nav a:hover,nav a:focus-visible{color:var(--copper)}
:focus-visible{outline:2px solid var(--copper);outline-offset:2px}
section{margin-top:4rem}h2{font-weight:400;font-size:1.75rem;line-height:1.15;margin:0 0 1rem;padding-bottom:.5rem;position:relative}
h2::after{content:"";position:absolute;left:0;bottom:0;width:3.5rem;border-bottom:2px solid var(--copper)}
h3{font-size:1.0625rem;margin:2rem 0 .25rem}p{margin:.25rem 0 .75rem;max-width:44rem}p.lead{font-size:1.1875rem;line-height:1.45}p.quiet,figcaption{color:var(--quiet);font-style:italic;font-size:.9375rem;max-width:44rem}
.key{display:grid;grid-template-columns:repeat(auto-fit,minmax(8.5rem,1fr));gap:0 1.5rem;border-top:1px solid var(--rule);margin:1rem 0 1.25rem}
.key div{padding:.5rem 0}.key b{font-weight:400;font-size:1.5rem;line-height:1.2}.key i{font-style:normal;color:var(--quiet);font-size:1rem}.key u{text-decoration:none;color:var(--quiet);font:.9rem var(--sans)}
.key span{display:block;font:.8125rem/1.3 var(--sans);color:var(--quiet)}
.scroll{overflow-x:auto;margin:.75rem 0 1.25rem}table{border-collapse:collapse;width:100%;font:.9375rem/1.35 var(--sans);font-variant-numeric:tabular-nums}
th{font-weight:400;font-size:.8125rem;color:var(--quiet);text-align:left;vertical-align:bottom;border-bottom:1px solid var(--quiet);padding:.25rem .75rem .25rem 0}
td{vertical-align:top;border-bottom:1px solid var(--rule);padding:.3125rem .75rem .3125rem 0}th:last-child,td:last-child{padding-right:0}tbody th{font:inherit;color:inherit;border-bottom:1px solid var(--rule);vertical-align:top;padding:.3125rem .75rem .3125rem 0}.n{text-align:right;white-space:nowrap}
figure{margin:1rem 0 1.25rem}figure .grid{display:grid;gap:.75rem}svg{display:block;width:100%;height:auto}svg text{font-family:var(--sans);font-variant-numeric:tabular-nums}
.box{border-left:3px solid var(--quiet);padding:.125rem 0 .125rem 1rem;margin:1.25rem 0;break-inside:avoid}.box h3{margin:0 0 .25rem;font-size:1.0625rem}.box p{margin:.125rem 0;font-size:1rem}
.box .tag{font:.8125rem var(--sans)}.box.stop{border-color:var(--brick)}.box.stop .tag{color:var(--brick)}.box.caution{border-color:var(--amber)}.box.caution .tag{color:var(--amber)}.box.note .tag{color:var(--quiet)}
ul.checks{list-style:none;padding:0;margin:.5rem 0 1.5rem}ul.checks li{padding:.375rem 0 .375rem 2rem;border-bottom:1px solid var(--rule);position:relative;max-width:46rem;break-inside:avoid}
ul.checks li::before{content:"";position:absolute;left:.125rem;top:.6875rem;width:.875rem;height:.875rem;border:1px solid var(--quiet)}ul.checks em{font:.875rem var(--sans);color:var(--moss)}
ol.numbered{font-size:1.125rem;padding-left:2.25rem;max-width:46rem}ol.numbered li{margin:.625rem 0}ol.numbered li::marker{color:var(--brick)}
.card{border:3px solid var(--brick);padding:1.5rem 1.75rem;break-inside:avoid}.card h2{color:var(--brick);font-size:2.25rem;font-weight:600}.card h2::after{border:0}.card ol{font-size:1.1875rem;padding-left:1.75rem}.card li{margin:.5rem 0}.card li::marker{color:var(--brick)}
.card dl{display:grid;grid-template-columns:minmax(8rem,auto) 1fr;margin:1.25rem 0;gap:0}.card dt,.card dd{margin:0;border-top:1px solid var(--rule);padding:.4375rem 1rem .4375rem 0}.card dt{font-family:var(--sans);color:var(--quiet)}.card dd{font-weight:600}
footer{margin-top:5rem;padding-top:.75rem;border-top:1px solid var(--rule);font:.875rem var(--sans);color:var(--quiet)}
@media (max-width:40rem){nav ol{columns:1}h1{font-size:2rem}.card{padding:1rem}figure .grid.many{grid-template-columns:repeat(2,1fr)!important}td:first-child,th:first-child{position:sticky;left:0;background:var(--paper)}.scroll table{min-width:36rem}figure.wide .grid{overflow-x:auto}figure.wide svg{min-width:42rem}}
@media print{:root{--paper:#FFF;--sheet:#FFF;--ink:#22201C;--quiet:#6B6459;--rule:#D3C9B8;--copper:#A4531F;--moss:#3F6B3A;--amber:#8A5A00;--brick:#A1302B}body{max-width:none;padding:0;font-size:10.5pt}section{break-before:page;margin-top:0}.scroll{overflow:visible}}
)css";

std::string paint(drawing::Tone tone) {
  return tone == drawing::Tone::none ? "none" : fmt::format("var(--{})", drawing::name(tone));
}

struct SvgWriter {
  std::string& out;
  void operator()(const drawing::Stroke& s) const {
    if (s.points.empty()) return;
    std::string d;
    for (std::size_t i = 0; i < s.points.size(); ++i)
      d += fmt::format("{}{:.2f} {:.2f}", i == 0 ? "M" : "L", s.points[i].x_mm, s.points[i].y_mm);
    out += fmt::format("<path d=\"{}{}\" fill=\"{}\"", d, s.closed ? "Z" : "", paint(s.fill));
    if (s.fill_strength < 1.0) out += fmt::format(" fill-opacity=\"{:.2f}\"", s.fill_strength);
    if (s.line != drawing::Tone::none) {
      out += fmt::format(
          " stroke=\"{}\" stroke-width=\"{:.2f}\" stroke-linecap=\"round\" "
          "stroke-linejoin=\"round\"",
          paint(s.line), s.width_mm);
      if (s.dash_mm > 0.0) out += fmt::format(" stroke-dasharray=\"{:.2f}\"", s.dash_mm);
    }
    out += "/>";
  }
  void operator()(const drawing::Circle& c) const {
    out += fmt::format("<circle cx=\"{:.2f}\" cy=\"{:.2f}\" r=\"{:.2f}\" fill=\"{}\"",
                       c.centre.x_mm, c.centre.y_mm, c.radius_mm, paint(c.fill));
    if (c.line != drawing::Tone::none && c.width_mm > 0.0)
      out += fmt::format(" stroke=\"{}\" stroke-width=\"{:.2f}\"", paint(c.line), c.width_mm);
    out += "/>";
  }
  void operator()(const drawing::Text& t) const {
    const char* anchor = t.anchor == drawing::Anchor::start ? "start"
                         : t.anchor == drawing::Anchor::end ? "end"
                                                            : "middle";
    out += fmt::format(
        "<text x=\"{:.2f}\" y=\"{:.2f}\" font-size=\"{:.2f}\" fill=\"{}\" "
        "text-anchor=\"{}\"{}>{}</text>",
        t.at.x_mm, t.at.y_mm, t.size_mm * 1.12, paint(t.tone), anchor,
        t.bold ? " font-weight=\"600\"" : "", escaped(t.text));
  }
};

struct BlockWriter {
  std::string& out;
  void operator()(const Heading& h) const { out += fmt::format("<h3>{}</h3>\n", escaped(h.text)); }
  void operator()(const Paragraph& p) const {
    out += fmt::format("<p{}>{}</p>\n",
                       p.lead    ? " class=\"lead\""
                       : p.quiet ? " class=\"quiet\""
                                 : "",
                       escaped(p.text));
  }
  void operator()(const KeyFigures& k) const {
    out += "<div class=\"key\">";
    for (const KeyFigure& f : k.figures)
      out += fmt::format("<div><b>{}</b>{} <u>{}</u><span>{}</span></div>", escaped(f.value),
                         f.uncertainty.empty() ? "" : " <i>" + escaped(f.uncertainty) + "</i>",
                         escaped(f.unit), escaped(f.label));
    out += "</div>\n";
  }
  void operator()(const Table& t) const {
    out += fmt::format(
        "<div class=\"scroll\" tabindex=\"0\" role=\"group\" aria-label=\"Table: {}\"><table>",
        escaped(t.columns.front().head));
    if (std::any_of(t.columns.begin(), t.columns.end(),
                    [](const Column& c) { return !c.head.empty(); })) {
      out += "<thead><tr>";
      for (const Column& c : t.columns)
        out += c.head.empty() ? "<th scope=\"col\"></th>"
                              : fmt::format("<th scope=\"col\"{}>{}</th>",
                                            c.numeric ? " class=\"n\"" : "", escaped(c.head));
      out += "</tr></thead>";
    }
    out += "<tbody>";
    for (const auto& row : t.rows) {
      out += "<tr>";
      for (std::size_t c = 0; c < t.columns.size(); ++c) {
        const std::string text = escaped(c < row.size() ? row[c] : "");
        if (c == 0)
          out += fmt::format("<th scope=\"row\">{}</th>", text);
        else
          out += fmt::format("<td{}>{}</td>", t.columns[c].numeric ? " class=\"n\"" : "", text);
      }
      out += "</tr>";
    }
    out += "</tbody></table></div>\n";
  }
  void operator()(const Plate& p) const {
    if (p.drawings.empty()) return;
    out += fmt::format(
        "<figure class=\"{}\"><div class=\"grid{}\" "
        "style=\"grid-template-columns:repeat({},1fr)\">",
        p.across == 1 ? "wide" : "", p.across > 1 ? " many" : "", p.across);
    for (const drawing::Drawing& d : p.drawings) out += to_svg(d);
    out += "</div>";
    if (!p.caption.empty()) out += fmt::format("<figcaption>{}</figcaption>", escaped(p.caption));
    out += "</figure>\n";
  }
  void operator()(const Checks& c) const {
    out += fmt::format("<h3>{}</h3><p class=\"quiet\">{}</p><ul class=\"checks\">",
                       escaped(c.title), escaped(c.when));
    for (std::size_t i = 0; i < c.steps.size(); ++i) {
      const std::string who = i < c.signed_by.size() ? c.signed_by[i] : "";
      out += fmt::format("<li>{}{}</li>", escaped(c.steps[i]),
                         who.empty() ? "" : " <em>● " + escaped(who) + "</em>");
    }
    out += "</ul>\n";
  }
  void operator()(const CautionBox& c) const {
    out += fmt::format("<div class=\"box {0}\"><span class=\"tag\">{1} {3}</span><h3>{2}</h3>",
                       findings::name(c.severity), findings::mark(c.severity), escaped(c.title),
                       tag(c));
    for (const std::string& line : c.lines) out += fmt::format("<p>{}</p>", escaped(line));
    out += "</div>\n";
  }
  void operator()(const Numbered& n) const {
    out += "<ol class=\"numbered\">";
    for (const std::string& line : n.lines) out += fmt::format("<li>{}</li>", escaped(line));
    out += "</ol>\n";
  }
  void operator()(const Card& c) const {
    out += fmt::format("<div class=\"card\"><h2>{}</h2><ol>", escaped(c.title));
    for (const std::string& step : c.steps) out += fmt::format("<li>{}</li>", escaped(step));
    out += "</ol><dl>";
    for (const auto& [what, value] : c.facts)
      out += fmt::format("<dt>{}</dt><dd>{}</dd>", escaped(what), escaped(value));
    out += fmt::format("</dl><p class=\"quiet\">{}</p></div>\n", escaped(c.foot));
  }
};

}  // namespace

std::string to_svg(const drawing::Drawing& d) {
  std::string out =
      fmt::format("<svg viewBox=\"0 0 {:.2f} {:.2f}\" role=\"img\" aria-label=\"{}\">", d.width_mm,
                  d.height_mm, escaped(d.title));
  for (const auto& item : d.items) std::visit(SvgWriter{out}, item);
  return out + "</svg>";
}

std::string to_html(const Document& document) {
  std::string out = fmt::format(
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
      "content=\"width=device-width,initial-scale=1\">"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
      "'unsafe-inline'; img-src data:\">"
      "<meta name=\"color-scheme\" content=\"light dark\"><title>{}</title><link rel=\"icon\" "
      "href=\"data:,\"><style>{}</style></head><body>\n",
      escaped(document.title + ": " + document.subtitle), style_sheet);
  out += fmt::format("<header><p class=\"sub\">{}</p><h1>{}</h1>", escaped(document.subtitle),
                     escaped(document.title));
  for (const std::string& line : document.cover_lines)
    out += fmt::format("<p class=\"line\">{}</p>", escaped(line));
  BlockWriter{out}(KeyFigures{document.cover_figures});
  for (const drawing::Drawing& d : document.cover_drawing)
    out += "<figure class=\"wide\">" + to_svg(d) + "</figure>";
  out += "<nav aria-label=\"Contents\"><ol>";
  for (std::size_t i = 0; i < document.sections.size(); ++i)
    out +=
        fmt::format("<li><a href=\"#s{}\">{}</a></li>", i + 1, escaped(document.sections[i].title));
  out += "</ol></nav></header>\n<main>";
  for (std::size_t i = 0; i < document.sections.size(); ++i) {
    const Section& s = document.sections[i];
    out += fmt::format("<section id=\"s{}\">", i + 1);
    if (!std::holds_alternative<Card>(s.blocks.front()))
      out += fmt::format("<h2>{}</h2>\n", escaped(s.title));
    for (const Block& block : s.blocks) std::visit(BlockWriter{out}, block);
    out += "</section>\n";
  }
  return out + fmt::format("</main><footer>{}</footer></body></html>\n", escaped(document.foot));
}

}  // namespace book
