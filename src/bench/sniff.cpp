// SPDX-License-Identifier: Apache-2.0
#include "bench/sniff.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "base/number.hpp"
#include "bench/clock.hpp"
#include "bench/header.hpp"

namespace bench {
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

bool number_with_unit(std::string_view field) {  // "3.301 V", "3,301 V"
  for (const char mark : {'.', ','})
    if (const auto parsed = base::parse_with_unit(field, mark);
        parsed && !parsed->unit.empty() && read_unit(parsed->unit))
      return true;
  return false;
}

bool value_like(std::string_view field) {
  return numeric(field, '.') || numeric(field, ',') || timelike(field) || number_with_unit(field);
}

/// A row of readings: two values or more, and values are at least half of what is filled in.
bool data_row(const Line& line) {
  std::size_t values = 0, filled = 0;
  for (const std::string& field : line.fields) {
    filled += !field.empty();
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
  std::size_t point_decimals = 0, comma_decimals = 0, comma_threes = 0, point_first = 0,
              comma_first = 0;
  for (const Line& line : lines) {
    if (line.number < layout.first_data_line) continue;
    for (const std::string& field : line.fields) {
      if (timelike(field)) continue;
      const std::size_t point = field.rfind('.'), comma = field.rfind(',');
      if (point != std::string::npos && comma != std::string::npos) {
        (point < comma ? point_first : comma_first) += 1;
      } else if (point != std::string::npos && numeric(field, '.')) {
        ++point_decimals;
      } else if (comma != std::string::npos && (numeric(field, ',') || number_with_unit(field))) {
        const std::size_t after = field.find_first_not_of("0123456789", comma + 1);
        const std::size_t digits = std::min(after, field.size()) - comma - 1;
        (digits == 3 && field.front() != '0' ? comma_threes : comma_decimals) += 1;
      }
    }
  }
  if (point_first + comma_decimals > 0 && comma_first + point_decimals > 0)
    throw InputError({"", layout.first_data_line, 0}, "both '.' and ',' as decimal mark",
                     "one decimal mark in the whole log",
                     "export the log again with one decimal mark");
  if (point_first > 0 || comma_decimals > 0) {
    layout.decimal_mark = ',';
    layout.thousands_mark = point_first > 0 ? '.' : '\0';
  } else if (comma_first > 0 || (point_decimals > 0 && comma_threes > 0)) {
    layout.thousands_mark = ',';
  } else if (comma_threes > 0) {
    layout.decimal_mark = ',';
    layout.marks_doubtful = true;
  }
}

[[noreturn]] void refuse_no_table(std::string_view head) {
  if (head.find('\0') != std::string_view::npos)
    throw InputError({}, "bytes that are not text",
                     "a table as text: comma, semicolon or tab between columns",
                     "save the log as CSV in the tester's program or in a spreadsheet");
  throw InputError({}, "no rows of readings",
                   "a header line and rows with at least time, voltage and current",
                   "check that this is the tester's log; open it in an editor: the readings must "
                   "stand one row a line");
}

}  // namespace

bool numeric(std::string_view field, char decimal_mark) {
  if (base::parse_number(field, decimal_mark)) return true;
  const char thousands = decimal_mark == '.' ? ',' : '.';
  if (field.find(thousands) == std::string_view::npos) return false;
  // Thousands marks stand before groups of three digits, left of the decimal mark.
  std::string plain;
  std::size_t since = 0;
  bool marked = false, decimals = false;
  for (const char c : field) {
    if (c == thousands) {
      if (decimals || (marked && since != 3) ||
          plain.find_first_of("0123456789") == std::string::npos)
        return false;
      marked = true;
      since = 0;
      continue;
    }
    if (c == decimal_mark && marked && since != 3) return false;
    decimals = decimals || c == decimal_mark;
    plain += c;
    ++since;
  }
  return (decimals || since == 3) && base::parse_number(plain, decimal_mark).has_value();
}

Layout sniff(std::string_view head, bool complete) {
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
    refuse_no_table(head);
  }

  Layout layout;
  layout.dialect = best.dialect;
  std::size_t first = best.lines.size();
  for (std::size_t i = 0; i < best.lines.size() && first == best.lines.size(); ++i)
    if (best.lines[i].fields.size() == best.fields && data_row(best.lines[i])) first = i;
  layout.first_data_line = best.lines[first].number;
  layout.first_row = best.lines[first].fields;

  // The header is the nearest line above that has about as many fields; a line of units may lie
  // between.
  for (std::size_t i = first; i-- > 0;) {
    const Line& line = best.lines[i];
    if (line.fields.size() + 1 < best.fields || line.fields.size() < 2) continue;
    if (!line.fields.front().empty() && line.fields.front().front() == '#') continue;
    std::size_t units = 0, filled = 0, known = 0;
    for (const std::string& field : line.fields) {
      filled += !field.empty();
      units += read_unit(field).has_value() || field.find(':') != std::string::npos;
      known += read_header_field(field).meaning != Meaning::other;
    }
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
  if (layout.headers.empty())
    throw InputError({"", layout.first_data_line, 0}, "readings without a header line",
                     "a line above them that names the columns",
                     "add a first line such as: time_s,voltage_V,current_A");
  layout.headers.resize(std::max(layout.headers.size(), best.fields));
  find_marks(layout, best.lines);
  return layout;
}

}  // namespace bench
