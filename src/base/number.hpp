// SPDX-License-Identifier: Apache-2.0
// Numbers as people and testers write them: the same in every locale, and fast for plain digits.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace base {

/// Reads the whole text as a number with `decimal_mark` ('.' or ','), or nothing. Takes a leading
/// sign and an exponent; refuses "nan", "inf", hexadecimal, and any mark that does not belong. Up
/// to 15 digits are read exactly by a digit loop, the rest by std::from_chars.
[[nodiscard]] std::optional<double> parse_number(std::string_view text, char decimal_mark = '.');

/// A number followed by a unit, "350 cm" or "25C": the number and the unit's text, or nothing.
struct NumberWithUnit {
  double value;
  std::string_view unit;
};
[[nodiscard]] std::optional<NumberWithUnit> parse_with_unit(std::string_view text,
                                                            char decimal_mark = '.');

/// Without blanks, tabs and no-break spaces at either end.
[[nodiscard]] std::string_view trimmed(std::string_view text);
/// The parts between commas, each trimmed; an empty part stays. "" has one, empty.
[[nodiscard]] std::vector<std::string_view> listed(std::string_view text);
/// ASCII letters in lower case, the rest untouched.
[[nodiscard]] std::string lower(std::string_view text);

/// Converts a value between two units of one kind ("cm" to "m", "F" to "C"); nothing where either
/// is unknown or the kinds differ. Where a symbol has two meanings (F, C) the target's kind
/// decides.
[[nodiscard]] std::optional<double> convert(double value, std::string_view from,
                                            std::string_view to);

}  // namespace base
