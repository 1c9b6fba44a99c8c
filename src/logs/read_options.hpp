// SPDX-License-Identifier: Apache-2.0
// What a person may say about how a log is to be read.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "logs/clock.hpp"
#include "logs/columns.hpp"

namespace logs {

/// `by_voltage`: the current has no sign, and how the voltage answers is to be believed.
enum class SignRule : std::uint8_t { automatic, discharge_positive, charge_positive, by_voltage };
enum class DecimalRule : std::uint8_t { automatic, point, comma };

struct ReadOptions {
  SignRule sign = SignRule::automatic;
  DateOrder dates = DateOrder::unknown;
  DecimalRule decimal = DecimalRule::automatic;
  std::map<Meaning, NamedColumn> columns;
  /// Of a log that holds several cells: the one whose channel column says this.
  std::string channel;
  /// Every bad row is left out and counted. Otherwise text where a number must stand, a last line
  /// cut short, and faults in more than one row of a hundred refuse the log.
  bool leave_out_bad_rows = false;
};

/// By the words that settings and commands use ("discharge-positive", "dmy", "comma"); any other
/// word leaves it open.
[[nodiscard]] ReadOptions options_named(std::string_view sign, std::string_view dates,
                                        std::string_view decimal);
/// "time=Zeit[min]" to the column's header and unit. Throws InputError for a meaning that is none.
[[nodiscard]] std::map<Meaning, NamedColumn> named_columns(const std::vector<std::string>& said);

}  // namespace logs
