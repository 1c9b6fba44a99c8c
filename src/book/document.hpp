// SPDX-License-Identifier: Apache-2.0
// The book's content, once: what is printed as PDF and written as HTML comes from the same blocks.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "drawing/drawing.hpp"
#include "findings/finding.hpp"

namespace book {

struct Heading {
  std::string text;
};
struct Paragraph {
  std::string text;
  bool lead = false;   ///< the sentence that answers the section's question
  bool quiet = false;  ///< a remark
};
struct KeyFigure {
  std::string label, value, uncertainty, unit;
};
struct KeyFigures {
  std::vector<KeyFigure> figures;
};
struct Column {
  std::string head;
  bool numeric = false;
  double share = 1.0;  ///< of the width, for columns of text
};
struct Table {
  std::vector<Column> columns;
  std::vector<std::vector<std::string>> rows;
  bool small = false;
  double least_row_mm = 0.0;  ///< room to write in by hand
};
/// One drawing with its caption, or several side by side where `across` is more than one.
struct Plate {
  std::vector<drawing::Drawing> drawings;
  std::string caption;
  int across = 1;
};
struct Checks {
  std::string title, when;
  std::vector<std::string> steps;
  std::vector<std::string> signed_by;  ///< one for each step; empty: still open
};
struct CautionBox {
  findings::Severity severity = findings::Severity::caution;
  std::string title;
  std::vector<std::string> lines;
  bool of_findings = false;  ///< it speaks of findings; else it stands always
};
/// "danger" for what always stands: "stop" is a finding's word.
[[nodiscard]] inline std::string_view tag(const CautionBox& c) {
  return !c.of_findings && c.severity == findings::Severity::stop ? "danger"
                                                                  : findings::name(c.severity);
}
/// Lines that are read one by one, numbered.
struct Numbered {
  std::vector<std::string> lines;
};
/// A page of its own to cut out and hang up.
struct Card {
  std::string title;
  std::vector<std::string> steps;
  std::vector<std::pair<std::string, std::string>> facts;
  std::string foot;
};

using Block =
    std::variant<Heading, Paragraph, KeyFigures, Table, Plate, Checks, CautionBox, Card, Numbered>;

struct Section {
  std::string title;
  std::vector<Block> blocks;
  bool own_page = false;  ///< starts on a new page
};

struct Document {
  std::string title, subtitle, foot;  ///< foot: said on every page
  std::vector<KeyFigure> cover_figures;
  std::vector<std::string> cover_lines;
  std::vector<drawing::Drawing> cover_drawing;  ///< none or one
  std::vector<Section> sections;
  bool sheets_only = false;  ///< neither cover nor contents
};

}  // namespace book
