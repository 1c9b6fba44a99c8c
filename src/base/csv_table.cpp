// SPDX-License-Identifier: Apache-2.0
#include "base/csv_table.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "base/delimited_text.hpp"
#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"

namespace base {

namespace {

/// The file as text: UTF-16 and Latin-1 are taken as what they are, as a log is. A zero byte is in
/// no text.
std::string text_of(std::string_view bytes, const std::string& file) {
  if (bytes.starts_with("\xEF\xBB\xBF")) bytes.remove_prefix(3);
  Decoder decoder;
  std::string text = to_utf8(decoder.decode(bytes));
  const std::size_t at = decoder.incomplete() ? text.size() : text.find('\0');
  if (at == std::string::npos) return text;
  const std::size_t start = at == 0 ? std::string::npos : text.rfind('\n', at - 1);
  const auto line = std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
  throw InputError({file, static_cast<std::size_t>(line) + 1,
                    at - (start == std::string::npos ? 0 : start + 1) + 1},
                   decoder.incomplete() ? "half a character" : "a zero byte", "a table as text",
                   "save the table anew, as comma-separated values in UTF-8");
}

}  // namespace

CsvTable::CsvTable(std::string_view raw, std::string file) : file_(std::move(file)) {
  const std::string text = text_of(raw, file_);
  const std::string_view bytes = text;
  const bool only_cr = bytes.find('\n') == std::string_view::npos;
  RowScanner scanner({',', only_cr ? '\r' : '\n'});
  const auto take = [&](const base::Row& row) {
    if (trimmed(row.text).empty()) return;
    std::vector<std::string> fields;
    for (const std::string_view f : row.fields) fields.emplace_back(f);
    if (header_.empty()) {
      for (std::string& f : fields) f = trimmed(f);
      header_ = std::move(fields);
    } else {
      rows_.push_back({row.line, std::move(fields)});
    }
  };
  scanner.feed(bytes, take);
  scanner.finish(take);
  if (header_.empty())
    throw InputError({file_, 1, 0}, "an empty table", "a header line such as: label,capacity_Ah",
                     "write the column names in the first line");
  for (const auto& [mark, name] : {std::pair{';', "semicolons"}, std::pair{'\t', "tabs"}})
    if (header_.size() == 1 && header_.front().find(mark) != std::string::npos)
      throw InputError({file_, 1, 0}, fmt::format("columns set apart by {}", name),
                       "columns set apart by commas, decimals with a point",
                       "save the table as comma-separated values");
  for (std::size_t i = 0; i < header_.size(); ++i)
    for (std::size_t k = i + 1; k < header_.size(); ++k)
      if (!header_[i].empty() && lower(header_[i]) == lower(header_[k]))
        throw InputError({file_, 1, k + 1},
                         fmt::format("two columns named '{}'", to_utf8(header_[i])),
                         "every column once", "rename or take out one of the two");
  for (const Row& row : rows_)
    if (row.fields.size() > header_.size())
      refuse(row, header_.size(), fmt::format("{} fields", row.fields.size()),
             fmt::format("{} as in the header", header_.size()),
             "put text that holds a comma in double quotes, and write decimals with a point");
}

std::optional<std::size_t> CsvTable::column(std::initializer_list<std::string_view> names) const {
  for (const std::string_view name : names)
    for (std::size_t i = 0; i < header_.size(); ++i)
      if (lower(header_[i]) == lower(name)) return i;
  return std::nullopt;
}

std::size_t CsvTable::must_have(std::initializer_list<std::string_view> names) const {
  if (const auto found = column(names)) return *found;
  std::string present;
  for (const std::string& h : header_) present += (present.empty() ? "" : ", ") + to_utf8(h);
  throw InputError({file_, 1, 0}, fmt::format("no column '{}' among: {}", *names.begin(), present),
                   fmt::format("a column '{}'", *names.begin()),
                   "name the columns in the first line, separated by commas");
}

std::string CsvTable::text(const Row& row, std::optional<std::size_t> column) const {
  if (!column || *column >= row.fields.size()) return "";
  return std::string(without_formula_guard(row.fields[*column]));
}

std::optional<double> CsvTable::number(const Row& row, std::optional<std::size_t> column) const {
  if (!column || *column >= row.fields.size()) return std::nullopt;
  const std::string_view field = trimmed(row.fields[*column]);
  if (field.empty()) return std::nullopt;
  const auto value = parse_number(field);
  if (!value)
    refuse(row, *column, fmt::format("'{}' as {}", field, header_[*column]),
           "a number with a decimal point", "correct the value");
  return value;
}

void CsvTable::refuse(const Row& row, std::size_t column, std::string found, std::string expected,
                      std::string remedy) const {
  throw InputError({file_, row.line, column + 1}, std::move(found), std::move(expected),
                   std::move(remedy));
}

}  // namespace base
