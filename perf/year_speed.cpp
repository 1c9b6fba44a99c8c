// SPDX-License-Identifier: Apache-2.0
// The year at the house: one year at a quarter hour, many designs over twenty years, thousands of
// futures, and the best year beside a solver of linear programmes on the same. Invented house.
#include <algorithm>
#include <chrono>
#include <cstdio>

#include "base/side_by_side.hpp"
#include "site/futures.hpp"
#include "site/load.hpp"
#include "site/optimum.hpp"
#include "site/solar.hpp"
#include "site/years.hpp"
#ifdef WITH_CLP
#include "tests/support/best_year_by_clp.hpp"
#endif

namespace {

template <class Work>
double seconds_of(Work work) {
  const auto start = std::chrono::steady_clock::now();
  work();
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

}  // namespace

int main() {
  site::Year year;
  year.first_day = 20089;  // 2025-01-01
  year.load_kW.assign(35040, 0.0);
  const double clear[12] = {0.50, 0.56, 0.62, 0.68, 0.72, 0.72, 0.72, 0.71, 0.68, 0.60, 0.48, 0.43};
  const double air[12] = {0, 1, 5, 9, 14, 17, 19, 18, 14, 9, 4, 1};
  const double building = seconds_of([&] {
    const site::Weather w =
        site::sky_of_statistics({52.0, 10.0}, 1.0, year.first_day, clear, air, 1);
    site::put_solar(year, 1.0, w, {.peak_kW = 7.5});
    site::put_load(year, {.annual_kWh = 5200.0});
  });
  const site::Prices prices = site::prices_of(
      year,
      {{.name = "day", .price = 0.32}, {.name = "night", .price = 0.22, .from_h = 22, .to_h = 6}},
      0.08);
  site::Store store;
  double sink = 0.0, best = 1e9;
  for (int i = 0; i < 20; ++i)
    best =
        std::min(best, seconds_of([&] { sink += site::dispatch(year, &prices, store, {}).cost; }));
  std::printf("weather, sun and load of a year: %.1f ms\n", building * 1e3);
  std::printf("a year of 35,040 steps: %.3f ms, %.2f ns a step (asked: 0.4 ms)\n", best * 1e3,
              best * 1e9 / 35040.0);
  site::Life life;
  life.cells_C = {8, 8, 10, 13, 16, 19, 21, 21, 18, 14, 10, 8};
  std::vector<double> all(400);
  const double designs = seconds_of([&] {
    base::side_by_side(400, [&](std::size_t i) {
      site::Life one = life;
      one.nominal_kWh = 2.0 + 0.1 * double(i);
      one.end_share = 0.0;
      const auto years = site::live(year, prices, store, {}, one);
      all[i] = years.back().saving();
    });
  });
  std::printf("400 designs x 20 years with rainflow and ageing: %.2f s (asked: 1.5 s)\n", designs);
  const site::Year hours = site::hourly(year);
  const site::Prices paid = site::hourly(prices, year.step_h);
  site::FutureBands bands;
  const double futures = seconds_of([&] {
    site::Futures f;
    f.count = 10000, f.capital = 3000.0, f.each_risk = true;
    bands = site::play_futures(year, prices, store, {}, life, f);
  });
  std::printf(
      "10,000 futures x 20 years with all risks and each risk alone: %.2f s (asked: 5 s); value %.0f, %.0f, %.0f\n",
      futures, bands.value.low, bands.value.middle, bands.value.high);
  const auto quickest = [&](const site::Year& y, const site::Prices& p, bool way) {
    site::BoundOptions options;
    options.way = way;
    double least = 1e9;
    for (int i = 0; i < 20; ++i)
      least =
          std::min(least, seconds_of([&] { sink += site::optimum(y, p, store, options).cost; }));
    return least;
  };
  const double way_hours = quickest(hours, paid, true), way_quarters = quickest(year, prices, true);
  std::printf("best of 8,760 hours with its way: %.2f ms (asked: 4 ms); its cost alone %.2f ms\n",
              way_hours * 1e3, quickest(hours, paid, false) * 1e3);
  std::printf(
      "best of 35,040 quarter hours with its way: %.2f ms (asked: 15 ms); its cost alone %.2f ms\n",
      way_quarters * 1e3, quickest(year, prices, false) * 1e3);
  site::Prices peaks = paid;
  peaks.demand_kW_month = 6.0;
  site::Bound with_peaks;
  const double peak_hours = seconds_of([&] { with_peaks = site::optimum(hours, peaks, store); });
  std::printf("best of 8,760 hours with months' peaks paid: %.2f s in %d plans, gap %.1e\n",
              peak_hours, with_peaks.iterations, with_peaks.gap);
#ifdef WITH_CLP
  const double lp_hours =
      seconds_of([&] { sink += support::best_year_by_clp(hours, paid, store).cost; });
  std::printf("  by dual simplex: hours %.2f s, %.0f times as long\n", lp_hours,
              lp_hours / way_hours);
  const double lp_quarters =
      seconds_of([&] { sink += support::best_year_by_clp(year, prices, store).cost; });
  std::printf("  quarter hours %.2f s, %.0f times as long\n", lp_quarters,
              lp_quarters / way_quarters);
  const double lp_peaks =
      seconds_of([&] { sink += support::best_year_by_clp(hours, peaks, store).cost; });
  std::printf("  hours with peaks %.2f s, %.1f times as long\n", lp_peaks, lp_peaks / peak_hours);
#endif
  std::printf("(%g)\n", sink + all[7]);
  return 0;
}
