// SPDX-License-Identifier: Apache-2.0
// Times as tables of meters, prices and weather write them.
#pragma once

#include <optional>
#include <string_view>

#include "base/csv_table.hpp"

namespace site {

/// A stamp in minutes since 1970 on the clock that wrote it, and the offset from UTC if it says
/// one.
struct Stamp {
  long minute = 0;
  std::optional<long> offset_min;
};
/// "2025-03-30 01:45", T for the blank, seconds and "Z" or "+01:00" behind; else nothing.
[[nodiscard]] std::optional<Stamp> stamp_of(std::string_view text);
/// `time`, `start`, `datetime` or `date`. Throws InputError.
[[nodiscard]] std::size_t time_column(const base::CsvTable& table);
/// Throws InputError that names the row.
[[nodiscard]] Stamp stamp_in(const base::CsvTable& table, const base::CsvTable::Row& row,
                             std::size_t time);

}  // namespace site
