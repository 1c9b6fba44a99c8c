// SPDX-License-Identifier: Apache-2.0
// Days of the Gregorian calendar, counted.
#pragma once

#include <optional>

namespace base {

/// Days from 1970-01-01 to this day, by the proleptic Gregorian calendar; nothing where the
/// calendar has no such day (30 February, month 13).
[[nodiscard]] std::optional<long> days_since_1970(int year, int month, int day);

}  // namespace base
