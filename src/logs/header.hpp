// SPDX-License-Identifier: Apache-2.0
// What the words and units of a header line say a column means.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace logs {

enum class Meaning : std::uint8_t {
  other,
  time,
  step_time,
  date,
  voltage,
  current,
  capacity,
  energy,
  temperature,
  power,
  state,
  step,
  cycle,
  record,
  channel
};
[[nodiscard]] std::string_view name(Meaning meaning);
[[nodiscard]] std::optional<Meaning> meaning_named(std::string_view word);

/// Where a file keeps charge and discharge apart, in columns of their own.
enum class Half : std::uint8_t { both, charge, discharge };

struct HeaderField {
  Meaning meaning = Meaning::other;
  std::string unit;        ///< as we spell it ("mA", "s", "C"); empty where the header names none
  double scale = 1.0;      ///< to s, V, A, Ah, Wh, W; temperatures see `unit`
  bool room = false;       ///< a temperature of the room, not the cell
  bool target = false;     ///< a set value or limit, not a reading
  Half half = Half::both;  ///< of a current, a capacity or an energy
};

/// Reads one header field, for example "Strom [mA]", "time_s", "Elapsed, s", "Temp(0.1C)".
[[nodiscard]] HeaderField read_header_field(std::string_view header);
/// A unit as it stands alone in a second header row; nothing where the text is no unit.
[[nodiscard]] std::optional<HeaderField> read_unit(std::string_view text);

}  // namespace logs
