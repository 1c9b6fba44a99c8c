// SPDX-License-Identifier: Apache-2.0
#include "store/cell_table.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "base/csv_table.hpp"
#include "base/delimited_text.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "works/cell_fields.hpp"
#include "works/label.hpp"

namespace store {
namespace {

using base::CsvTable;
using base::InputError;

void take_numbers(const CsvTable& table, const CsvTable::Row& row, works::Cell& cell) {
  for (const works::CellNumber& c : works::cell_numbers) {
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
    return works::entered_label(table.text(row, column));
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

std::vector<works::Cell> read_cells(std::string_view bytes, const std::string& file) {
  const CsvTable table(bytes, file);
  for (std::size_t i = 0; i < table.header().size(); ++i) {
    const std::string& h = table.header()[i];
    const bool known = h == "label" || h == "lot" || h == "note" || h == "made" ||
                       std::any_of(works::cell_numbers.begin(), works::cell_numbers.end(),
                                   [&](const works::CellNumber& c) { return c.name == h; });
    if (!known)
      throw InputError({file, 1, i + 1}, fmt::format("the column '{}'", base::to_utf8(h)),
                       "one of: label, lot, voltage_V, ac_resistance_mOhm, mass_kg, thickness_mm, "
                       "note, capacity_Ah, u_Ah, resistance_mOhm, leak_mA, made",
                       "rename or take out the column");
  }
  const std::size_t label = table.must_have({"label"});
  check_labels(table, label);
  std::vector<works::Cell> cells;
  for (const CsvTable::Row& row : table.rows()) {
    works::Cell cell;
    cell.label = label_in(table, row, label);
    cell.lot = table.text(row, table.column({"lot"}));
    cell.note = table.text(row, table.column({"note"}));
    cell.made = table.text(row, table.column({"made"}));
    take_numbers(table, row, cell);
    cells.push_back(std::move(cell));
  }
  return cells;
}

std::string write_cells(const std::vector<works::Cell>& cells) {
  std::string text =
      "label,lot,voltage_V,ac_resistance_mOhm,mass_kg,thickness_mm,note,capacity_Ah,u_Ah,"
      "resistance_mOhm,leak_mA,made\n";
  const auto number = [](const std::optional<double>& x) {
    return x ? fmt::format("{}", *x) : std::string();
  };
  for (const works::Cell& c : cells)
    text += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{}\n", base::csv_field(c.label),
                        base::csv_field(c.lot), number(c.voltage_V), number(c.ac_resistance_mOhm),
                        number(c.mass_kg), number(c.thickness_mm), base::csv_field(c.note),
                        number(c.capacity_Ah), number(c.u_Ah), number(c.resistance_mOhm),
                        number(c.leak_mA), base::csv_field(c.made));
  return text;
}

std::vector<works::Cell> read_candidates(std::string_view bytes, const std::string& file) {
  const CsvTable table(bytes, file);
  const std::size_t label = table.must_have({"label", "cell"}),
                    capacity = table.must_have({"capacity_Ah"});
  check_labels(table, label);
  std::vector<works::Cell> cells;
  for (const CsvTable::Row& row : table.rows()) {
    works::Cell cell;
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
