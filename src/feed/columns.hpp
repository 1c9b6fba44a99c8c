// SPDX-License-Identifier: Apache-2.0
// Which column of a running bank's record is which: cells by numbered names in natural order, the
// current, temperatures, the time; wide tables, and long ones of name, value and time.
#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "logs/clock.hpp"

namespace feed {

enum class Quantity : std::uint8_t {
  other,
  time,
  clock,  ///< time of day, where the date has a column of its own
  cell_voltage,
  cell_temperature,
  pack_voltage,
  current,
  temperature,
  state_of_charge
};

/// One series of readings: a column of a wide table, a name of a long one.
struct Channel {
  std::string header;
  Quantity quantity = Quantity::other;
  int pack = 0;
  int number = 0;       ///< of a cell, as its header counts
  double scale = 1.0;   ///< to V, A, °C
  double offset = 0.0;  ///< added after the scale
  std::string unit;     ///< after scaling; empty where it is not known
  /// "cell_7_V", "current_A": the name under which its mean is told.
  [[nodiscard]] std::string key() const;
};

/// What a person said of the columns: a meaning ("time", "current", "cells", "voltage",
/// "temperature", "name", "value") and the header, with '#' for the cell's number.
using Told = std::map<std::string, std::string, std::less<>>;

/// Says what each header means, by its words, its numbers and a few values under it (column by
/// column; empty where there are none).
[[nodiscard]] std::vector<Channel> name_channels(const std::vector<std::string>& headers,
                                                 const std::vector<std::vector<double>>& values,
                                                 const Told& told);

/// The cells of each pack as indices into the channels, in natural order of their names.
[[nodiscard]] std::vector<std::vector<std::size_t>> cells_by_pack(
    const std::vector<Channel>& channels);

/// The header with its last number taken out ("cell_#_V"), and that number.
struct Numbered {
  std::string stem;
  int number = 0;
};
[[nodiscard]] std::optional<Numbered> numbered(std::string_view header);

/// "a2" before "a10": digits compare as numbers.
[[nodiscard]] bool natural_less(std::string_view a, std::string_view b);

/// Columns of name, value and time of a long table, where these headers are one.
struct LongTable {
  std::size_t name, value, time;
};
[[nodiscard]] std::optional<LongTable> long_table(const std::vector<std::string>& headers,
                                                  const Told& told);

}  // namespace feed
