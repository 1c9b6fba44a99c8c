// SPDX-License-Identifier: Apache-2.0
#include "store/cell_table.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/csv_table.hpp"
#include "base/delimited_text.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "project/fields.hpp"
#include "project/label.hpp"

namespace store {
namespace {

using base::CsvTable;
using base::InputError;

void take_numbers(const CsvTable& table, const CsvTable::Row& row, project::Cell& cell) {
  for (const project::CellNumber& c : project::cell_numbers()) {
    const auto column = table.column({c.name});
    cell.*c.member = table.number(row, column);
    if (cell.*c.member && !(*(cell.*c.member) >= c.min && *(cell.*c.member) <= c.max))
      table.refuse(row, *column, fmt::format("{:g} as {}", *(cell.*c.member), c.name),
                   fmt::format("a number from {:g} to {:g}", c.min, c.max),
                   "correct the value or its unit");
  }
}

/// A row's label, by the one rule; throws in the row's place.
std::string label_in(const CsvTable& table, const CsvTable::Row& row, std::size_t column) {
  try {
    return project::entered_label(table.text(row, column));
  } catch (const InputError& e) {
    table.refuse(row, column, e.found(), e.expected(), e.remedy());
  }
}

void check_labels(const CsvTable& table, std::size_t column) {
  std::map<std::string, std::size_t> seen;
  for (const CsvTable::Row& row : table.rows()) {
    const std::string label = label_in(table, row, column);
    const auto [before, fresh] = seen.emplace(label, row.line);
    if (!fresh)
      table.refuse(
          row, column,
          fmt::format("two cells labelled '{}', the other in line {}", label, before->second),
          "every label once", "give one of the two another label");
  }
}

}  // namespace

std::vector<project::Cell> read_cells(std::string_view bytes, const std::string& file) {
  const CsvTable table(bytes, file);
  const std::vector<std::string_view>& columns = project::cell_columns();
  for (std::size_t i = 0; i < table.header().size(); ++i)
    if (const std::string& h = table.header()[i];
        std::find(columns.begin(), columns.end(), h) == columns.end())
      throw InputError({file, 1, i + 1}, fmt::format("the column '{}'", base::to_utf8(h)),
                       fmt::format("one of: {}", fmt::join(columns, ", ")),
                       "rename or take out the column");
  const std::size_t label = table.must_have({"label"});
  check_labels(table, label);
  std::vector<project::Cell> cells;
  for (const CsvTable::Row& row : table.rows()) {
    project::Cell cell;
    for (const project::CellText& t : project::cell_texts())
      cell.*t.member = table.text(row, table.column({t.name}));
    cell.label = label_in(table, row, label);
    take_numbers(table, row, cell);
    cells.push_back(std::move(cell));
  }
  return cells;
}

std::string write_cells(const std::vector<project::Cell>& cells) {
  std::string text = fmt::format("{}\n", fmt::join(project::cell_columns(), ","));
  for (const project::Cell& c : cells) {
    std::vector<std::string> row;
    for (const std::string_view column : project::cell_columns()) {
      for (const project::CellText& t : project::cell_texts())
        if (t.name == column) row.push_back(base::csv_field(c.*t.member));
      for (const project::CellNumber& n : project::cell_numbers())
        if (n.name == column) row.push_back(c.*n.member ? fmt::format("{}", *(c.*n.member)) : "");
    }
    text += fmt::format("{}\n", fmt::join(row, ","));
  }
  return text;
}

std::vector<project::Cell> read_candidates(std::string_view bytes, const std::string& file) {
  const CsvTable table(bytes, file);
  const std::size_t label = table.must_have({"label", "cell"}),
                    capacity = table.must_have({"capacity_Ah"});
  check_labels(table, label);
  std::vector<project::Cell> cells;
  for (const CsvTable::Row& row : table.rows()) {
    project::Cell cell;
    cell.label = label_in(table, row, label);
    take_numbers(table, row, cell);
    if (!cell.capacity_Ah || *cell.capacity_Ah <= 0.0)
      table.refuse(row, capacity, "a cell without capacity", "a capacity above zero, in Ah",
                   "test the cell first, or take its line out");
    cells.push_back(std::move(cell));
  }
  return cells;
}

}  // namespace store
