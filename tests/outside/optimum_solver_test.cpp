// SPDX-License-Identifier: Apache-2.0
// The best year against a second solver of linear programmes (GLPK's glpsol, Debian's glpk-utils,
// another library by other hands): the same two weeks written as equations, the sun that is thrown
// away as a column of its own.
#include <algorithm>
#include <cmath>
#include <random>
#include <sstream>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "site/optimum.hpp"
#include "tests/support/support.hpp"

namespace {

using site::Prices;
using site::Store;
using site::Year;

struct Case {
  const char* name;
  bool from_grid, closed;
  double reserve_kWh, standby_kW, demand, export_kW;
};

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

TEST(BestYear, agrees_with_a_second_solver_to_a_millionth) {
  if (std::system("command -v glpsol >/dev/null 2>&1") != 0)
    GTEST_SKIP() << "glpsol is not installed (Debian: glpk-utils)";
  const support::Folder folder;
  std::mt19937_64 engine(7);
  const auto draw = [&] { return double(engine() >> 11) * 0x1.0p-53; };
  Year y;
  y.step_h = 1.0;
  Prices p;
  for (int i = 0; i < 24 * 14; ++i) {
    const double hour = i % 24;
    y.load_kW.push_back(0.2 + (hour > 16 && hour < 22 ? 2.5 * draw() : 0.6 * draw()));
    y.solar_kW.push_back(4.0 * draw() * std::max(0.0, std::sin((hour - 6.0) * M_PI / 12.0)));
    p.buy.push_back(0.20 + 0.20 * draw()), p.sell.push_back(0.05 + 0.02 * draw());
  }
  for (const Case& c : {Case{"plain", true, false, 0.0, 0.0, 0.0, 50.0},
                        Case{"sun only", false, false, 0.0, 0.02, 0.0, 50.0},
                        Case{"closed, with a reserve", true, true, 2.0, 0.02, 0.0, 50.0},
                        Case{"peak paid, little export", true, false, 1.0, 0.03, 6.0, 1.5}}) {
    Store s;
    s.usable_kWh = 8.0, s.charge_kW = 2.5, s.discharge_kW = 3.0;
    s.charging = site::Loss::charging(0.94), s.discharging = site::Loss::discharging(0.95);
    s.reserve_kWh = c.reserve_kWh, s.standby_kW = c.standby_kW, s.start_kWh = c.reserve_kWh;
    p.demand_kW_month = c.demand;
    site::BoundOptions o;
    o.from_grid = c.from_grid, o.closed = c.closed, o.export_kW = c.export_kW, o.import_kW = 12.0;
    const site::Bound ours = site::optimum(y, p, s, o);
    ASSERT_EQ(ours.status, site::Bound::Status::optimal) << c.name;
    support::write(folder / "m.lp", programme(y, p, s, o));
    ASSERT_EQ(std::system(fmt::format("cd '{}' && glpsol --lp m.lp -w out.txt > log.txt 2>&1",
                                      folder.path().string())
                              .c_str()),
              0)
        << c.name;
    // "s bas rows columns f f objective"
    std::istringstream lines(support::read(folder / "out.txt"));
    std::string line, word;
    double theirs = NAN;
    while (std::getline(lines, line))
      if (line.rfind("s bas", 0) == 0) {
        std::istringstream words(line);
        std::string primal, dual;
        words >> word >> word >> word >> word >> primal >> dual >> theirs;
        EXPECT_EQ(primal + dual, "ff") << c.name;
      }
    EXPECT_NEAR(ours.cost, theirs, 1e-6 * std::abs(theirs)) << c.name;
  }
}

}  // namespace
