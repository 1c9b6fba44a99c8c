// SPDX-License-Identifier: Apache-2.0
// A small comma-separated table with named columns, and where in the file each value stood.
#pragma once

#include <initializer_list>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace base {

class CsvTable {
 public:
  /// Throws InputError (in `file`) for a table without a header. Blank lines are passed over.
  CsvTable(std::string_view bytes, std::string file);

  struct Row {
    std::size_t line;
    std::vector<std::string> fields;
  };
  [[nodiscard]] const std::vector<Row>& rows() const { return rows_; }
  [[nodiscard]] const std::vector<std::string>& header() const { return header_; }
  /// The column with one of these names, or nothing.
  [[nodiscard]] std::optional<std::size_t> column(
      std::initializer_list<std::string_view> names) const;
  /// The same; throws InputError where there is none.
  [[nodiscard]] std::size_t must_have(std::initializer_list<std::string_view> names) const;
  [[nodiscard]] std::string text(const Row& row, std::optional<std::size_t> column) const;
  /// Nothing where the field is empty; throws InputError where it is no number.
  [[nodiscard]] std::optional<double> number(const Row& row,
                                             std::optional<std::size_t> column) const;
  [[noreturn]] void refuse(const Row& row, std::size_t column, std::string found,
                           std::string expected, std::string remedy) const;

 private:
  std::string file_;
  std::vector<std::string> header_;
  std::vector<Row> rows_;
};

}  // namespace base
