// SPDX-License-Identifier: Apache-2.0
// What the words and units of a header line say a column means.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace bench {

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
  record
};
[[nodiscard]] std::string_view name(Meaning meaning);
[[nodiscard]] std::optional<Meaning> meaning_named(std::string_view word);

struct HeaderField {
  Meaning meaning = Meaning::other;
  std::string unit;     ///< as we spell it ("mA", "s", "C"); empty where the header names none
  double scale = 1.0;   ///< to s, V, A, Ah, Wh, W; temperatures see `unit`
  bool room = false;    ///< a temperature of the room, not the cell
  bool target = false;  ///< a set value or limit, not a reading
};

/// Reads one header field, for example "Strom [mA]", "time_s", "Elapsed, s", "Temp(0.1C)".
[[nodiscard]] HeaderField read_header_field(std::string_view header);
/// A unit as it stands alone in a second header row; nothing where the text is no unit.
[[nodiscard]] std::optional<HeaderField> read_unit(std::string_view text);

/// Text as UTF-8: bytes that are not valid UTF-8 are taken for Latin-1.
[[nodiscard]] std::string to_utf8(std::string_view bytes);
/// A whole file's bytes as UTF-8 without byte-order mark, where they are UTF-16; else unchanged but
/// for the mark.
[[nodiscard]] std::string decode(std::string_view bytes);

}  // namespace bench
