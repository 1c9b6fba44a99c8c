// SPDX-License-Identifier: Apache-2.0
#include "logs/sniff.hpp"

#include <algorithm>
#include <array>
#include <map>
#include <optional>

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

/// Bytes that are no table at all.
void refuse_other_files(std::string_view head) {
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
}

/// The separator that makes the most of the lines into clean readings; then the one with more
/// columns.
Candidate best_candidate(std::string_view head, char line_end, bool complete) {
  Candidate best;
  const auto score = [](const Candidate& x) {
    return double(x.data_rows) * x.value_share * (x.fields >= 3 ? 1.0 : 0.5);
  };
  for (const char delimiter : {'\t', ';', ',', '|', base::aligned_by_blanks}) {
    Candidate c = examine(head, {delimiter, line_end}, complete);
    if (c.data_rows > 0 && (score(c) > score(best) * 1.001 ||
                            (score(c) >= score(best) * 0.999 && c.fields > best.fields)))
      best = std::move(c);
  }
  return best;
}

/// Perhaps a header alone: say so rather than that there is no table.
[[noreturn]] void refuse_no_rows(std::string_view head, char line_end) {
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

struct Words {
  std::size_t filled = 0, units = 0, known = 0, values = 0;
};
Words words_of(const Line& line, const std::vector<std::string>& names) {
  Words w;
  for (const std::string& field : line.fields) {
    w.filled += !field.empty();
    w.units += read_unit(field).has_value() || field.find(':') != std::string::npos;
    w.known += read_header_field(field).meaning != Meaning::other;
    w.values += !field.empty() && value_like(field);
  }
  for (const std::string& name : names)
    w.known += std::any_of(line.fields.begin(), line.fields.end(),
                           [&](const std::string& f) { return base::to_utf8(f) == name; });
  return w;
}

/// A head of two lines, as spreadsheets merge them: "Capacity,,Energy," over "in,out,in,out". The
/// upper word goes on to the right until the next.
void join_merged_head(Layout& layout, const Line& upper) {
  if (upper.fields.size() != layout.headers.size()) return;
  const auto empty =
      static_cast<std::size_t>(std::count(upper.fields.begin(), upper.fields.end(), std::string()));
  const std::size_t filled = upper.fields.size() - empty;
  if (empty == 0 || filled < 2) return;
  if (std::any_of(upper.fields.begin(), upper.fields.end(),
                  [](const std::string& f) { return !f.empty() && value_like(f); }))
    return;
  std::string word;
  for (std::size_t c = 0; c < upper.fields.size(); ++c) {
    if (!upper.fields[c].empty()) word = upper.fields[c];
    if (word.empty() || read_header_field(layout.headers[c]).meaning != Meaning::other) continue;
    layout.headers[c] = layout.headers[c].empty() ? word : word + " " + layout.headers[c];
  }
}

/// The header is the nearest line above that has about as many fields and a word that is known; a
/// line of units may lie between. Else the nearest of words over as many columns.
void find_header(Layout& layout, const Candidate& best, std::size_t first, std::size_t used,
                 const std::vector<std::string>& names) {
  std::optional<std::size_t> unknown;
  for (std::size_t i = first; i-- > 0;) {
    const Line& line = best.lines[i];
    if (line.fields.size() + 1 < used || line.fields.size() < 2) continue;
    if (!line.fields.front().empty() && line.fields.front().front() == '#') continue;
    const Words w = words_of(line, names);
    const bool all_units = w.filled > 0 && w.units == w.filled && layout.units_row.empty();
    if (all_units && i > 0 && best.lines[i - 1].fields.size() == line.fields.size()) {
      layout.units_row = line.fields;
      continue;
    }
    if (w.known == 0) {
      const bool over_all = line.fields.size() == best.fields && w.values == 0 &&
                            w.filled + 1 >= used && i + 2 >= first;
      if (!unknown && over_all) unknown = i;
      continue;
    }
    // Words over every column stand nearer than a known one over fewer.
    if (unknown && line.fields.size() < best.fields) break;
    layout.header_line = line.number;
    layout.headers = line.fields;
    if (i > 0) join_merged_head(layout, best.lines[i - 1]);
    return;
  }
  layout.header_known = false;
  if (!unknown) return;
  layout.header_line = best.lines[*unknown].number;
  layout.headers = best.lines[*unknown].fields;
}

/// Names over other columns than the readings have: nothing says which stands over which.
void refuse_crooked_header(const Layout& layout, const Candidate& best, std::size_t used,
                           std::size_t first_fields) {
  std::size_t named = layout.headers.size();
  while (named > 0 && layout.headers[named - 1].empty()) --named;
  if (layout.header_line > 0 && named != used && first_fields == best.fields &&
      (named > best.fields || named < used))
    throw InputError({"", layout.header_line, 0},
                     fmt::format("{} names over rows of {} fields", named, used),
                     "as many names as fields, so that each stands over its own column",
                     "mend the header in a copy of the log, or name the columns by number: "
                     "--columns 'time=#1[s],voltage=#2[V],current=#3[A]'");
}

}  // namespace

Layout sniff(std::string_view head, bool complete, const std::vector<std::string>& names) {
  refuse_other_files(head);
  const bool only_cr =
      head.find('\n') == std::string_view::npos && head.find('\r') != std::string_view::npos;
  const char line_end = only_cr ? '\r' : '\n';
  Candidate best = best_candidate(head, line_end, complete);
  if (best.data_rows == 0) refuse_no_rows(head, line_end);
  Layout layout;
  layout.dialect = best.dialect;
  const auto whole = [&](const Line& line) {
    return line.fields.size() == best.fields && data_row(line);
  };
  const auto first = static_cast<std::size_t>(
      std::find_if(best.lines.begin(), best.lines.end(), whole) - best.lines.begin());
  layout.first_data_line = best.lines[first].number;
  layout.first_row = best.lines[first].fields;
  std::vector<std::size_t> rows;
  std::size_t used = 0;  // columns that hold anything: separators may trail every row
  for (std::size_t i = first; i < best.lines.size(); ++i) {
    if (!whole(best.lines[i])) continue;
    rows.push_back(i);
    const auto& fields = best.lines[i].fields;
    for (std::size_t c = used; c < fields.size(); ++c)
      if (!fields[c].empty()) used = c + 1;
  }
  find_header(layout, best, first, used, names);
  const bool by_number = std::any_of(names.begin(), names.end(),
                                     [](const std::string& n) { return n.starts_with('#'); });
  if (!by_number) refuse_crooked_header(layout, best, used, best.lines[first].fields.size());
  layout.headers.resize(std::max(layout.headers.size(), best.fields));
  for (std::size_t k = 0; k < std::min<std::size_t>(rows.size(), 200); ++k)
    layout.rows.push_back(best.lines[rows[k]].fields);
  layout.sample_stride = std::max<std::size_t>(1, rows.size() / 600);
  for (std::size_t k = 0; k < rows.size(); k += layout.sample_stride)
    layout.sample.push_back(best.lines[rows[k]].fields);
  find_marks(layout, best.lines);
  return layout;
}

}  // namespace logs
