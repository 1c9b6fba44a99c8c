// SPDX-License-Identifier: Apache-2.0
#include "logs/sniff.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "logs/clock.hpp"
#include "logs/header.hpp"

namespace logs {
namespace {

using base::InputError;

struct Line {
  std::size_t number = 0;
  std::vector<std::string> fields;
};

std::vector<Line> split_all(std::string_view head, base::Dialect dialect, bool complete) {
  std::vector<Line> lines;
  base::RowScanner scanner(dialect);
  const auto take = [&](const base::Row& row) {
    Line line{row.line, {}};
    for (const std::string_view field : row.fields) line.fields.emplace_back(base::trimmed(field));
    lines.push_back(std::move(line));
  };
  scanner.feed(head, take);
  if (complete) scanner.finish(take);
  return lines;
}

bool timelike(std::string_view field) {
  return parse_clock(field, true) || parse_date(field) || parse_date_and_clock(field);
}

bool value_like(std::string_view field) {
  return parse_reading(field, {'.', ','}) || parse_reading(field, {',', '.'}) || timelike(field);
}

/// A row of readings: two values or more, and values are at least half of what is filled in.
bool data_row(const Line& line) {
  std::size_t values = 0, filled = 0;
  for (const std::string& field : line.fields) {
    filled += !no_value(field);
    values += value_like(field);
  }
  return values >= 2 && values * 2 >= filled;
}

struct Candidate {
  base::Dialect dialect;
  std::vector<Line> lines;
  std::size_t data_rows = 0;  // rows of readings that have the usual number of fields
  std::size_t fields = 0;     // that number
  double value_share = 0.0;   // of the filled fields of those rows
};

Candidate examine(std::string_view head, base::Dialect dialect, bool complete) {
  Candidate c{dialect, split_all(head, dialect, complete), 0, 0, 0.0};
  std::map<std::size_t, std::size_t> widths;
  for (const Line& line : c.lines)
    if (data_row(line)) ++widths[line.fields.size()];
  for (const auto& [width, count] : widths)
    if (count > c.data_rows) c.data_rows = count, c.fields = width;
  std::size_t filled = 0, values = 0;
  for (const Line& line : c.lines) {
    if (line.fields.size() != c.fields || !data_row(line)) continue;
    for (const std::string& field : line.fields) {
      filled += !field.empty();
      values += value_like(field);
    }
  }
  c.value_share = filled > 0 ? double(values) / double(filled) : 0.0;
  return c;
}

/// Which marks the numbers of these rows use.
void find_marks(Layout& layout, const std::vector<Line>& lines) {
  std::array<std::size_t, 5> seen{};
  bool point_thousands = false, comma_thousands = false;
  for (const Line& line : lines) {
    if (line.number < layout.first_data_line) continue;
    for (std::size_t column = 0; column < line.fields.size(); ++column) {
      const std::string& field = line.fields[column];
      if (timelike(field)) continue;
      const MarkEvidence evidence = mark_evidence(field);
      ++seen[static_cast<std::size_t>(evidence)];
      if (column >= layout.evidence.size()) layout.evidence.resize(column + 1);
      ++layout.evidence[column][static_cast<std::size_t>(evidence)];
      if (evidence == MarkEvidence::comma_decimal)
        point_thousands = point_thousands || field.find('.') != std::string::npos;
      if (evidence == MarkEvidence::point_decimal)
        comma_thousands = comma_thousands || field.find(',') != std::string::npos;
    }
  }
  const auto count = [&](MarkEvidence e) { return seen[static_cast<std::size_t>(e)]; };
  const std::size_t points = count(MarkEvidence::point_decimal),
                    commas = count(MarkEvidence::comma_decimal),
                    either_point = count(MarkEvidence::point_or_thousands),
                    either_comma = count(MarkEvidence::comma_or_thousands);
  if (points > 0 && commas > 0) {
    layout.doubt = MarkDoubt::mixed;
    layout.marks = {'.', ','};
  } else if (commas > 0) {
    layout.marks = {',', point_thousands || either_point > 0 ? '.' : '\0'};
  } else if (points > 0) {
    layout.marks = {'.', comma_thousands || either_comma > 0 ? ',' : '\0'};
  } else if (either_comma > 0 && either_point > 0) {
    layout.doubt = MarkDoubt::mixed;
    layout.marks = {'.', ','};
  } else if (either_comma > 0) {
    layout.doubt = MarkDoubt::either;
    layout.marks = {',', '\0'};
  } else if (either_point > 0) {
    layout.doubt = MarkDoubt::either;
    layout.marks = {'.', '\0'};
  }
}

[[noreturn]] void refuse_no_table() {
  throw InputError({}, "no rows of readings",
                   "a header line and rows with at least time, voltage and current",
                   "check that this is the tester's log; open it in an editor: the readings must "
                   "stand one row a line");
}

}  // namespace

Layout sniff(std::string_view head, bool complete, const std::vector<std::string>& names) {
  if (const std::string_view kind = base::other_kind_of_file(head); !kind.empty())
    throw InputError({}, fmt::format("{}, not a log as text", kind),
                     "a table as text: comma, semicolon or tab between columns",
                     "save the log as CSV in the tester's program or in a spreadsheet");
  if (const std::size_t zero = head.find('\0'); zero != std::string_view::npos)
    throw InputError({}, fmt::format("a byte that is no text (number {} of the file)", zero + 1),
                     "a table as text: comma, semicolon or tab between columns",
                     "save the log as CSV in the tester's program or in a spreadsheet");
  if (base::trimmed(head).find_first_not_of("\r\n \t") == std::string_view::npos)
    throw InputError({}, "an empty log", "a header line and rows of readings",
                     "export the log again; the tester may not have finished writing it");
  const bool only_cr =
      head.find('\n') == std::string_view::npos && head.find('\r') != std::string_view::npos;
  const char line_end = only_cr ? '\r' : '\n';

  Candidate best;
  for (const char delimiter : {'\t', ';', ',', '|', base::aligned_by_blanks}) {
    Candidate c = examine(head, {delimiter, line_end}, complete);
    // The separator that makes the most of the lines into clean readings wins; then the one with
    // more columns.
    const auto score = [](const Candidate& x) {
      return double(x.data_rows) * x.value_share * (x.fields >= 3 ? 1.0 : 0.5);
    };
    if (c.data_rows > 0 && (score(c) > score(best) * 1.001 ||
                            (score(c) >= score(best) * 0.999 && c.fields > best.fields)))
      best = std::move(c);
  }
  if (best.data_rows == 0) {
    // Perhaps a header alone: say so rather than that there is no table.
    for (const char delimiter : {'\t', ';', ',', '|'}) {
      for (const Line& line : split_all(head, {delimiter, line_end}, true)) {
        std::size_t known = 0;
        for (const std::string& field : line.fields)
          known += read_header_field(field).meaning != Meaning::other;
        if (known >= 2)
          throw InputError({"", line.number, 0}, "a header and no rows of readings",
                           "rows of readings below the header",
                           "export the log again; the tester may not have finished writing it");
      }
    }
    refuse_no_table();
  }

  Layout layout;
  layout.dialect = best.dialect;
  std::size_t first = best.lines.size();
  for (std::size_t i = 0; i < best.lines.size() && first == best.lines.size(); ++i)
    if (best.lines[i].fields.size() == best.fields && data_row(best.lines[i])) first = i;
  layout.first_data_line = best.lines[first].number;
  layout.first_row = best.lines[first].fields;
  // Columns that hold anything: separators may trail every row.
  std::size_t used = 0;
  for (const Line& line : best.lines)
    if (line.fields.size() == best.fields && data_row(line))
      for (std::size_t c = 0; c < line.fields.size(); ++c)
        if (!line.fields[c].empty()) used = std::max(used, c + 1);

  // The header is the nearest line above that has about as many fields; a line of units may lie
  // between.
  for (std::size_t i = first; i-- > 0;) {
    const Line& line = best.lines[i];
    if (line.fields.size() + 1 < used || line.fields.size() < 2) continue;
    if (!line.fields.front().empty() && line.fields.front().front() == '#') continue;
    std::size_t units = 0, filled = 0, known = 0;
    for (const std::string& field : line.fields) {
      filled += !field.empty();
      units += read_unit(field).has_value() || field.find(':') != std::string::npos;
      known += read_header_field(field).meaning != Meaning::other;
    }
    for (const std::string& name : names)
      known += std::any_of(line.fields.begin(), line.fields.end(),
                           [&](const std::string& f) { return base::to_utf8(f) == name; });
    const bool all_units = filled > 0 && units == filled && layout.units_row.empty();
    if (all_units && i > 0 && best.lines[i - 1].fields.size() == line.fields.size()) {
      layout.units_row = line.fields;
      continue;
    }
    if (known == 0) continue;
    layout.header_line = line.number;
    layout.headers = line.fields;
    break;
  }
  const bool by_number = std::any_of(names.begin(), names.end(),
                                     [](const std::string& n) { return n.starts_with('#'); });
  if (layout.headers.empty() && !by_number) {
    std::string above;
    if (first > 0)
      for (const std::string& field : best.lines[first - 1].fields)
        above += fmt::format("{}'{}'", above.empty() ? "" : ", ", base::to_utf8(field));
    throw InputError(
        {"", first > 0 ? best.lines[first - 1].number : layout.first_data_line, 0},
        above.empty() ? "readings without a header line"
                      : fmt::format("a header in which no word is known: {}", above),
        "a line above the readings that names time, voltage and current",
        "name the columns, by header or by number: --columns 'time=#1[s],voltage=#2[V],"
        "current=#3[A]'; or add a first line such as: time_s,voltage_V,current_A");
  }
  std::size_t named = layout.headers.size();
  while (named > 0 && layout.headers[named - 1].empty()) --named;
  if (layout.header_line > 0 && !by_number && named != used &&
      best.lines[first].fields.size() == best.fields && (named > best.fields || named < used))
    throw InputError({"", layout.header_line, 0},
                     fmt::format("{} names over rows of {} fields", named, used),
                     "as many names as fields, so that each stands over its own column",
                     "mend the header in a copy of the log, or name the columns by number: "
                     "--columns 'time=#1[s],voltage=#2[V],current=#3[A]'");
  layout.headers.resize(std::max(layout.headers.size(), best.fields));
  for (std::size_t i = first; i < best.lines.size() && layout.rows.size() < 200; ++i)
    if (best.lines[i].fields.size() == best.fields && data_row(best.lines[i]))
      layout.rows.push_back(best.lines[i].fields);
  find_marks(layout, best.lines);
  return layout;
}

}  // namespace logs
