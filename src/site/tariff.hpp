// SPDX-License-Identifier: Apache-2.0
// A tariff of many prices, as a table: by hours, days and months.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "site/year.hpp"

namespace site {

/// Columns: `price` a kWh; where they matter `name`, `from_h`, `to_h` (before `from_h`: past
/// midnight), `days` ("all", "workdays", "weekend", or "1-5", 1 Monday), `months` ("all", "4-9",
/// "10-3" over the new year; several joined by "+"). Every quarter hour of every weekday and month
/// must have one price: a gap names the time, an overlap both lines. Throws InputError.
[[nodiscard]] std::vector<PriceBand> read_tariff(std::string_view bytes, const std::string& file);

}  // namespace site
