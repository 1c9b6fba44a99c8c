// SPDX-License-Identifier: Apache-2.0
// How things are written on a terminal: 80 columns, a thin rule under the head, marks with words.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "base/json.hpp"
#include "findings/finding.hpp"

namespace cli {

/// Number of columns that UTF-8 text takes (every code point one, combining marks none).
[[nodiscard]] std::size_t width(std::string_view text);
[[nodiscard]] std::string left(std::string_view text, std::size_t columns);
[[nodiscard]] std::string right(std::string_view text, std::size_t columns);
/// Breaks text at blanks so that no line exceeds `columns`. The text begins at column `indent`,
/// behind what the caller writes there; later lines are indented to it.
[[nodiscard]] std::string wrap(std::string_view text, std::size_t columns = 80,
                               std::size_t indent = 0);

/// Colour only where standard output is a terminal and NO_COLOR is not set.
[[nodiscard]] bool colours();
[[nodiscard]] std::string bold(std::string_view text);
[[nodiscard]] std::string quiet(std::string_view text);

struct TableColumn {
  std::string head;
  bool numeric = false;
};
/// A table with a thin rule under its head; columns as wide as they need.
[[nodiscard]] std::string table(const std::vector<TableColumn>& columns,
                                const std::vector<std::vector<std::string>>& rows);

/// Findings with mark, id, sentence, and what to do.
[[nodiscard]] std::string findings_text(const std::vector<findings::Finding>& findings);

/// A line on standard error that tells how far long work is; silent for the first second and where
/// standard error is no terminal.
class Progress {
 public:
  explicit Progress(std::string what);
  ~Progress();
  void at(double share);

 private:
  std::string what_;
  long long started_ns_, shown_ns_ = 0;
  bool shown_ = false;
};

/// JSON on standard output; bytes that are no text (of a file's name) are shown as such.
void print_json(const base::Json& json);

/// Seconds since 1970, universal time; SOURCE_DATE_EPOCH decides where it is set.
[[nodiscard]] std::int64_t now_s();
/// The day as it should stand in the book; SOURCE_DATE_EPOCH decides where it is set.
[[nodiscard]] std::string today();

}  // namespace cli
