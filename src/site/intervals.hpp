// SPDX-License-Identifier: Apache-2.0
// A house's own meter: intervals from a CSV, with all that such files get wrong.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "findings/finding.hpp"
#include "site/series.hpp"
#include "site/year.hpp"

namespace site {

/// What a meter's file holds, as mean powers in equal steps of standard time, a whole year.
struct Metered {
  Year year;                      ///< load; solar where a column gives it, else zeros
  std::vector<double> export_kW;  ///< where a column gives it
  bool has_solar = false, has_export = false;
  bool load_is_import = false;  ///< the column is what the grid gave, not what the house used
  std::vector<findings::Finding> findings;
};

/// Columns: a time (`time`, `start`, `datetime`, `date`), and `load_kW`, `load_W`, `load_kWh` or
/// `import_…`; `solar_…`, `export_…` likewise; `…_counter_kWh` for readings that only rise. The
/// unit is in the name: a column without one is refused, since kW and kWh of a quarter hour differ
/// fourfold. Times "2025-03-30 01:45", with seconds, T or an offset allowed, of each interval's
/// start. Told as findings: the days of 23 and 25 hours, identical rows given twice, a counter that
/// starts again, gaps (to two hours filled straight, longer ones by the same hours a week before or
/// after), more than a year (the latest is taken). Refused: times that go backwards otherwise, two
/// different rows for one time, no whole year, an odd step, negative use, values that no house has.
/// `solar_alone`: a file of the panels, without a load.
[[nodiscard]] Metered read_intervals(std::string_view bytes, const std::string& file,
                                     bool solar_alone = false);

}  // namespace site
