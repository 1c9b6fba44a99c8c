// SPDX-License-Identifier: Apache-2.0
// The best year against two general-purpose solvers of linear programmes: CLP (dual simplex,
// Debian's coinor-libclp-dev) on the same matrix, and GLPK (Debian's glpk-utils) on the programme
// written out as equations, the sun that is thrown away as a column of its own.
#include <algorithm>
#include <cmath>
#include <random>
#include <sstream>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "base/calendar.hpp"
#include "base/csv_table.hpp"
#include "site/optimum.hpp"
#include "tests/support/best_year_by_clp.hpp"
#include "tests/support/support.hpp"

namespace {

using site::Prices;
using site::Store;
using site::Year;

/// A stretch of a house, its prices, store and limits, drawn.
struct Stretch {
  Year y;
  Prices p;
  Store s;
  site::BoundOptions o;
  double gross = 0.0;  ///< what the load would cost, in amounts
};
Stretch stretch(std::mt19937_64& engine, bool peaks) {
  const auto u = [&] { return double(engine() >> 11) * 0x1.0p-53; };
  Stretch x;
  const int n = 500 + int(u() * 1500.0);
  x.y.step_h = u() < 0.5 ? 0.25 : 1.0;
  x.y.first_day = 20089;  // 2025-01-01
  const bool negative = u() < 0.4, dear_sale = u() < 0.3, bands = u() < 0.3;
  for (int i = 0; i < n; ++i) {
    const double hour = std::fmod(i * x.y.step_h, 24.0);
    x.y.load_kW.push_back(0.2 + (hour > 16 && hour < 22 ? 2.5 : 0.6) * u());
    x.y.solar_kW.push_back(
        u() < 0.2 ? 0.0 : 5.0 * u() * std::max(0.0, std::sin((hour - 6.0) * M_PI / 12.0)));
    double buy = bands ? (hour < 6 ? 0.15 : hour < 17 ? 0.25 : 0.40) : 0.2 + 0.2 * u();
    if (negative && u() < 0.1) buy -= 0.6 * u();
    x.p.buy.push_back(buy);
    x.p.sell.push_back(dear_sale ? buy + 0.2 * u() - 0.1 : negative && u() < 0.1 ? -0.05 : 0.06);
    x.gross += std::abs(buy) * x.y.load_kW.back() * x.y.step_h;
  }
  x.s.usable_kWh = 1.0 + 12.0 * u();
  x.s.charge_kW = 0.5 + 5.0 * u(), x.s.discharge_kW = 0.5 + 5.0 * u();
  const bool lossless = u() < 0.1;
  x.s.charging = site::Loss::charging(lossless ? 1.0 : 0.85 + 0.15 * u());
  x.s.discharging = site::Loss::discharging(lossless ? 1.0 : 0.85 + 0.15 * u());
  x.s.standby_kW = u() < 0.5 ? 0.03 : 0.0;
  x.s.reserve_kWh = u() < 0.5 ? 0.0 : 0.4 * x.s.usable_kWh;
  x.s.start_kWh = u() < 0.3 ? x.s.reserve_kWh * u()
                            : x.s.reserve_kWh + u() * (x.s.usable_kWh - x.s.reserve_kWh);
  x.o.from_grid = u() < 0.7, x.o.closed = u() < 0.4;
  if (u() < 0.4) x.o.export_kW = 3.0 * u();
  if (u() < 0.3) x.o.import_kW = 4.0 + 4.0 * u();
  if (peaks) x.p.demand_kW_month = 5.0 * u();
  return x;
}

std::string programme(const Year& y, const Prices& p, const Store& s, const site::BoundOptions& o) {
  const std::size_t n = y.steps();
  const double in = (1.0 - s.charging.k1) * y.step_h, out = (1.0 + s.discharging.k1) * y.step_h;
  std::string text = "Minimize\n cost:";
  for (std::size_t i = 0; i < n; ++i)
    text += fmt::format(" {:+.17g} b{} {:+.17g} e{}\n", p.buy[i] * y.step_h, i,
                        -p.sell[i] * y.step_h, i);
  if (p.demand_kW_month > 0.0) text += fmt::format(" + {:.17g} peak\n", p.demand_kW_month);
  text += "Subject To\n";
  // E is the charge at the end of a step, through its own recursion.
  for (std::size_t i = 0; i < n; ++i) {
    // With the part of the sun that is thrown away, w.
    text += fmt::format(" use{}: b{} - e{} - c{} + d{} - w{} = {:.17g}\n", i, i, i, i, i, i,
                        y.load_kW[i] + s.standby_kW - y.solar_kW[i]);
    if (i == 0)
      text += fmt::format(" held0: E0 - {:.17g} c0 + {:.17g} d0 = {:.17g}\n", in, out, s.start_kWh);
    else
      text += fmt::format(" held{}: E{} - E{} - {:.17g} c{} + {:.17g} d{} = 0\n", i, i, i - 1, in,
                          i, out, i);
    if (p.demand_kW_month > 0.0) text += fmt::format(" top{}: b{} - peak <= 0\n", i, i);
  }
  text += "Bounds\n";
  for (std::size_t i = 0; i < n; ++i) {
    const double surplus = std::max(0.0, y.solar_kW[i] - y.load_kW[i] - s.standby_kW);
    text += fmt::format(" 0 <= b{} <= {:.17g}\n 0 <= e{} <= {:.17g}\n 0 <= w{} <= {:.17g}\n", i,
                        o.import_kW, i, std::min(o.export_kW, y.solar_kW[i]), i, y.solar_kW[i]);
    text +=
        fmt::format(" 0 <= c{} <= {:.17g}\n 0 <= d{} <= {:.17g}\n", i,
                    o.from_grid ? s.charge_kW : std::min(s.charge_kW, surplus), i, s.discharge_kW);
    const bool end = o.closed && i + 1 == n;
    text += fmt::format(" {:.17g} <= E{} <= {:.17g}\n",
                        end ? s.start_kWh : std::min(s.reserve_kWh, s.start_kWh), i,
                        end ? s.start_kWh : s.usable_kWh);
  }
  return text + "End\n";
}

/// GLPK's least cost; nothing where it is not installed or finds none.
std::optional<double> by_glpk(const Stretch& x) {
  const support::Folder folder;
  support::write(folder / "m.lp", programme(x.y, x.p, x.s, x.o));
  if (std::system(fmt::format("cd '{}' && glpsol --lp m.lp -w out.txt > log.txt 2>&1",
                              folder.path().string())
                      .c_str()) != 0)
    return std::nullopt;
  // "s bas rows columns f f objective"
  std::istringstream lines(support::read(folder / "out.txt"));
  std::string line, word;
  while (std::getline(lines, line))
    if (line.rfind("s bas", 0) == 0) {
      std::istringstream words(line);
      std::string primal, dual;
      double cost = NAN;
      words >> word >> word >> word >> word >> primal >> dual >> cost;
      if (primal + dual == "ff") return cost;
    }
  return std::nullopt;
}

/// Every way is checked: between the limits, and its cost is the sum over its steps.
void expect_sound(const Stretch& x, const site::Bound& b, const std::string& what) {
  ASSERT_EQ(b.held_kWh.size(), x.y.steps()) << what;
  const double low = std::min({x.s.reserve_kWh, x.s.start_kWh, x.s.usable_kWh});
  double E = x.s.start_kWh;
  for (const double held : b.held_kWh) {
    ASSERT_GE(held, low - 1e-9) << what;
    ASSERT_LE(held, x.s.usable_kWh + 1e-9) << what;
    ASSERT_LE(held - E, x.s.charge_kW * (1.0 - x.s.charging.k1) * x.y.step_h + 1e-9) << what;
    ASSERT_GE(held - E, -x.s.discharge_kW * (1.0 + x.s.discharging.k1) * x.y.step_h - 1e-9) << what;
    E = held;
  }
  if (x.o.closed) {
    EXPECT_NEAR(E, x.s.start_kWh, 1e-9) << what;
  }
}

TEST(BestYear, agrees_with_a_dual_simplex_on_200_stretches) {
  std::mt19937_64 engine(5);
  int solved = 0;
  for (int k = 0; k < 200; ++k) {
    const Stretch x = stretch(engine, false);
    const std::string what = fmt::format("stretch {}", k);
    const site::Bound ours = site::optimum(x.y, x.p, x.s, x.o),
                      theirs = support::best_year_by_clp(x.y, x.p, x.s, x.o);
    ASSERT_EQ(ours.status, theirs.status) << what;
    if (ours.status != site::Bound::Status::optimal) continue;
    EXPECT_NEAR(ours.cost, theirs.cost, 1e-9 * x.gross) << what;
    expect_sound(x, ours, what);
    site::BoundOptions cost_only = x.o;
    cost_only.way = false;
    EXPECT_NEAR(site::optimum(x.y, x.p, x.s, cost_only).cost, ours.cost, 1e-9 * x.gross) << what;
    ++solved;
  }
  EXPECT_GT(solved, 150);
}

TEST(BestYear, agrees_with_a_second_solver_on_200_stretches) {
  if (std::system("command -v glpsol >/dev/null 2>&1") != 0)
    GTEST_SKIP() << "glpsol is not installed (Debian: glpk-utils)";
  std::mt19937_64 engine(5);
  int solved = 0, near = 0;
  for (int k = 0; k < 200; ++k) {
    const Stretch x = stretch(engine, false);
    const site::Bound ours = site::optimum(x.y, x.p, x.s, x.o);
    if (ours.status != site::Bound::Status::optimal) continue;
    const auto theirs = by_glpk(x);
    ASSERT_TRUE(theirs.has_value()) << k;
    // Its own tolerances are 1e-7; where it comes closer, so do we.
    EXPECT_NEAR(ours.cost, *theirs, 1e-7 * x.gross) << k;
    near += std::abs(ours.cost - *theirs) <= 1e-9 * x.gross;
    ++solved;
  }
  EXPECT_GT(solved, 150);
  EXPECT_GE(near, solved * 95 / 100);
}

TEST(BestYear, with_paid_peaks_agrees_with_the_solver_and_knows_its_gap) {
  std::mt19937_64 engine(5);
  for (int k = 0; k < 40; ++k) {
    const Stretch x = stretch(engine, true);
    const site::Bound ours = site::optimum(x.y, x.p, x.s, x.o),
                      theirs = support::best_year_by_clp(x.y, x.p, x.s, x.o);
    ASSERT_EQ(ours.status, theirs.status) << k;
    if (ours.status != site::Bound::Status::optimal) continue;
    EXPECT_NEAR(ours.cost, theirs.cost, 2e-9 * x.gross) << k;
    EXPECT_LE(ours.cost - ours.gap, theirs.cost + 1e-9 * x.gross) << k;
    EXPECT_LE(ours.gap, 1e-9 * x.gross) << k;
  }
}

TEST(BestYear, says_what_the_next_usable_kilowatt_hour_saves) {
  std::mt19937_64 engine(11);
  int seen = 0;
  for (int k = 0; k < 60; ++k) {
    Stretch x = stretch(engine, false);
    const site::Bound b = site::optimum(x.y, x.p, x.s, x.o);
    if (b.status != site::Bound::Status::optimal) continue;
    const auto cost_with = [&](double more) {
      Stretch other = x;
      other.s.usable_kWh += more;
      return site::optimum(other.y, other.p, other.s, other.o).cost;
    };
    // The cost is convex in the size: its slope lies between those to both sides.
    const double step = 1e-4, before = (cost_with(-step) - b.cost) / step,
                 after = (b.cost - cost_with(step)) / step;
    EXPECT_LE(b.next_usable_kWh, before + 1e-6 * x.gross) << k;
    EXPECT_GE(b.next_usable_kWh, after - 1e-6 * x.gross) << k;
    ++seen;
  }
  EXPECT_GT(seen, 40);
}

TEST(BestYear, of_a_weak_connection_says_that_there_is_none) {
  std::mt19937_64 engine(3);
  Stretch x = stretch(engine, false);
  x.o.import_kW = 0.1;
  const site::Bound b = site::optimum(x.y, x.p, x.s, x.o);
  EXPECT_EQ(b.status, site::Bound::Status::impossible);
  EXPECT_NE(b.words.find("too weak"), std::string::npos);
}

// The open year of a household (half-hours) under three prices by the hour.
TEST(BestYear, of_the_open_year_agrees_with_the_dual_simplex) {
  const auto data = support::open_data("06-home-year");
  NEEDS_OPEN_DATA(data);
  Stretch x;
  x.y.step_h = 0.5;
  x.y.first_day = *base::day_of("2011-07-01");
  const base::CsvTable table(
      support::read(data / "raw" / "household12_load_pv_30min_2011-07_2012-06.csv"), "year");
  for (const auto& row : table.rows()) {
    x.y.load_kW.push_back(*table.number(row, 1));
    x.y.solar_kW.push_back(4.0 * *table.number(row, 2));
  }
  x.p =
      site::prices_of(x.y,
                      {{.name = "day", .price = 0.25},
                       {.name = "night", .price = 0.15, .from_h = 22, .to_h = 7},
                       {.name = "peak", .price = 0.45, .from_h = 14, .to_h = 20, .weekdays = 0x1F}},
                      0.06);
  for (std::size_t i = 0; i < x.y.steps(); ++i) x.gross += x.p.buy[i] * x.y.load_kW[i] * x.y.step_h;
  const site::Bound ours = site::optimum(x.y, x.p, x.s, x.o),
                    theirs = support::best_year_by_clp(x.y, x.p, x.s, x.o);
  ASSERT_EQ(theirs.status, site::Bound::Status::optimal);
  EXPECT_NEAR(ours.cost, theirs.cost, 1e-9 * x.gross);
}

}  // namespace
