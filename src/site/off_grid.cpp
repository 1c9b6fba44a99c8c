// SPDX-License-Identifier: Apache-2.0
#include "site/off_grid.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "base/check.hpp"
#include "base/side_by_side.hpp"
#include "base/small_random.hpp"

namespace site {

Year resampled(const Year& year, unsigned seed) {
  constexpr long block = 5, reach = 10;
  Year y = year;
  base::SmallRandom random(seed);
  const long a_day = long(year.steps_a_day()), days = long(year.steps()) / a_day;
  long shift = 0;
  for (long d = 0; d < days; ++d) {
    if (d % block == 0) shift = long(std::floor(random.uniform() * (2 * reach + 1))) - reach;
    const long from = ((d + shift) % days + days) % days;
    std::copy_n(year.solar_kW.begin() + from * a_day, a_day, y.solar_kW.begin() + d * a_day);
  }
  return y;
}

LossOfLoad loss_of_load(const Year& year, const Store& store, int years, unsigned seed) {
  CHECK(years >= 1);
  std::vector<Outcome> all(std::size_t(years), Outcome{});
  Store full = store;
  full.start_kWh = store.usable_kWh;
  base::side_by_side(all.size(), [&](std::size_t k) {
    all[k] = dispatch(resampled(year, seed + unsigned(k)), nullptr, full, {});
  });
  LossOfLoad loss;
  loss.years = years;
  const double hours = double(year.steps()) * year.step_h;
  for (const Outcome& o : all) {
    const double share = o.load_kWh > 0.0 ? o.import_kWh / (o.load_kWh + o.standby_kWh) : 0.0;
    loss.energy_share += share / years;
    loss.worst_share = std::max(loss.worst_share, share);
    loss.time_share += o.import_h / hours / years;
  }
  return loss;
}

double size_for_loss(const Year& year, const Store& store, double share, double most_kWh, int years,
                     unsigned seed) {
  const auto lost = [&](double kWh) {
    Store s = store;
    s.usable_kWh = kWh;
    return loss_of_load(year, s, years, seed).energy_share;
  };
  if (lost(most_kWh) > share) return most_kWh;
  double low = 0.0, high = most_kWh;
  while (high - low > 0.1) {
    const double middle = 0.5 * (low + high);
    (lost(middle) > share ? low : high) = middle;
  }
  return high;
}

OffGridSize off_grid_size(double daily_kWh, double inverter_share, double days, double depth,
                          double end_share, double factor, double margin, double voltage_V) {
  CHECK(inverter_share > 0.0 && depth > 0.0 && end_share > 0.0 && factor > 0.0 && voltage_V > 0.0);
  OffGridSize s;
  s.needed_kWh = daily_kWh / inverter_share * days;
  s.nominal_kWh = s.needed_kWh / (depth * end_share * factor) * margin;
  s.nominal_Ah = s.nominal_kWh * 1000.0 / voltage_V;
  return s;
}

}  // namespace site
