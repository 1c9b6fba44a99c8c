// SPDX-License-Identifier: Apache-2.0
// One reading as a tester or a spreadsheet writes it: "1.234,5", "1 234.5", "−3.3 V", "n/a".
#pragma once

#include <optional>
#include <string_view>

namespace logs {

/// Which marks stand inside a file's numbers.
struct Marks {
  char decimal = '.';
  char thousands = '\0';  ///< '\0' where there is none; blanks and apostrophes are always taken
};

/// The number in a field, or nothing. Takes blanks, no-break and thin spaces and apostrophes
/// between groups of three digits, thousands marks where `marks` has one, a Unicode minus, and a
/// unit behind ("3.301 V"), which is not applied. Never takes "nan", "inf" or hexadecimal.
[[nodiscard]] std::optional<double> parse_reading(std::string_view field, Marks marks);

/// The unit behind the number of such a field, as we spell it; empty where there is none.
[[nodiscard]] std::string_view unit_behind(std::string_view field, Marks marks);

/// True for what testers and spreadsheets write where there is no value: empty, "-", "---", "n/a",
/// "nan", "inf", "null", "unavailable", "unknown", "OL", "#N/A" and the like.
[[nodiscard]] bool no_value(std::string_view field);

/// What the marks inside one field show.
enum class MarkEvidence {
  none,                ///< no number, or a whole one
  point_decimal,       ///< surely a decimal point
  comma_decimal,       ///< surely a decimal comma
  point_or_thousands,  ///< "3.301": decimals or thousands
  comma_or_thousands,  ///< "3,301"
};
[[nodiscard]] MarkEvidence mark_evidence(std::string_view field);

}  // namespace logs
