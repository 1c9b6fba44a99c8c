// SPDX-License-Identifier: Apache-2.0
// Sharing on the bus and a cell's circuit in time, against a circuit simulator (ngspice). Skipped
// where it is not installed.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <sstream>
#include <vector>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "bank/twin.hpp"
#include "tests/support/support.hpp"
#include "wiring/sharing.hpp"

namespace {

namespace units = base::units;
using bank::Demand;
using layout::TakeOff;

#define NEEDS_SPICE()                                         \
  if (std::system("command -v ngspice >/dev/null 2>&1") != 0) \
  GTEST_SKIP() << "ngspice is not installed: apt-get install ngspice"

/// All numbers that the netlist writes into `out.txt`, in their order.
std::vector<double> simulated(const std::string& netlist) {
  const support::Folder folder;
  support::write(folder / "net.cir", netlist);
  const std::string run =
      fmt::format("cd '{}' && ngspice -b net.cir >log.txt 2>&1 </dev/null", folder.path().string());
  EXPECT_EQ(std::system(run.c_str()), 0) << support::read(folder / "log.txt");
  std::istringstream in(support::read(folder / "out.txt"));
  std::vector<double> numbers;
  for (std::string word; in >> word;) {
    char* end = nullptr;
    const double x = std::strtod(word.c_str(), &end);
    if (end == word.c_str() + word.size()) numbers.push_back(x);  // not the names beside them
  }
  return numbers;
}

struct Network {
  std::vector<double> volts, ohms;  ///< each pack's source and what it stands behind
  double link_Ohm;                  ///< each rail between neighbours; of a star, each pole's lead
  TakeOff take_off;
  double amps;
};
struct Shared {
  std::vector<double> amps;
  double bus_V = 0.0;
};

/// The minus rail is earthed where it leaves; the load draws from the first pack's plus.
Shared by_spice(const Network& n) {
  const std::size_t packs = n.ohms.size();
  const bool star = n.take_off == TakeOff::star;
  std::string net = "packs on a bus\n", control = ".control\nset numdgt=14\nop\n";
  for (std::size_t k = 1; k <= packs; ++k) {
    net +=
        fmt::format("V{0} e{0} n{0} {1}\nR{0} e{0} p{0} {2}\n", k, n.volts[k - 1], n.ohms[k - 1]);
    if (star)
      net += fmt::format("RP{0} p{0} plus {1}\nRN{0} n{0} minus {1}\n", k, n.link_Ohm);
    else if (k < packs)
      net += fmt::format("RP{0} p{0} p{1} {2}\nRN{0} n{0} n{1} {2}\n", k, k + 1, n.link_Ohm);
    // One vector for each current: a `print` of several would read "a -b" as a difference.
    control += fmt::format("let amps{0}=-i(V{0})\nprint amps{0} >> out.txt\n", k);
  }
  const std::string plus = star ? "plus" : "p1", minus = star ? "minus"
                                                         : n.take_off == TakeOff::diagonal
                                                             ? fmt::format("n{}", packs)
                                                             : "n1";
  net += fmt::format("IL {0} 0 {1}\nVE {2} 0 0\n", plus, n.amps, minus);
  control += fmt::format("let bus=v({})\nprint bus >> out.txt\nquit 0\n.endc\n.end\n", plus);
  Shared shared{simulated(net + control)};
  EXPECT_EQ(shared.amps.size(), packs + 1);
  if (!shared.amps.empty()) shared.bus_V = shared.amps.back(), shared.amps.pop_back();
  return shared;
}

/// Cells that are nothing but a source behind R0, at 25 °C, too big to run down.
Shared by_twin(const Network& n) {
  const std::size_t packs = n.ohms.size();
  bank::Setup s;
  s.layout = {.packs = int(packs), .series = 1, .parallel = 1, .take_off = n.take_off};
  s.layout.link = s.layout.joint = s.layout.pack_extra = 0.0 * units::Ohm;
  s.layout.lead = n.link_Ohm * units::Ohm;
  s.limits.bms.cell_high = s.limits.charger.per_cell = 99.0 * units::V;
  s.limits.inverter.charge_stop_per_cell = s.limits.balancer.start = 99.0 * units::V;
  s.rated_capacity = 1e9 * units::Ah;
  for (std::size_t k = 0; k < packs; ++k) {
    cell::Model m;
    m.capacity = 1e9 * units::Ah, m.r0 = n.ohms[k] * units::Ohm, m.hysteresis = 0.0 * units::V;
    s.cells.push_back(m);
    s.start_charge.push_back(0.5);
    s.curves.push_back({{0.0, 1.0}, {n.volts[k], n.volts[k]}});
    s.curve_of.push_back(int(k));
  }
  s.start = base::Temperature::from_C(25.0);
  bank::Twin twin(s);
  twin.set_step(1.0 * units::s);
  twin.step({Demand::Kind::current, n.amps}, 25.0);
  Shared shared;
  for (std::size_t k = 0; k < packs; ++k) shared.amps.push_back(twin.pack_A(int(k)));
  shared.bus_V = twin.bus_V();
  return shared;
}

constexpr double part = 1e-4;  // 0.01 %

void expect_same(const Shared& is, const Shared& expected, double mean_A, double drop_V) {
  ASSERT_EQ(is.amps.size(), expected.amps.size());
  for (std::size_t k = 0; k < is.amps.size(); ++k)
    EXPECT_NEAR(is.amps[k], expected.amps[k], part * mean_A) << "pack " << k + 1;
  EXPECT_NEAR(is.bus_V, expected.bus_V, part * drop_V);
}

TEST(TwinAgainstSpice, shares_a_current_between_packs_of_equal_voltage) {
  NEEDS_SPICE();
  const std::vector<double> even(4, 0.010), uneven = {0.009, 0.010, 0.010, 0.011},
                                            five = {0.012, 0.008, 0.010, 0.015, 0.009};
  for (const auto& ohms : {even, uneven, five})
    for (const TakeOff take_off : {TakeOff::same_end, TakeOff::diagonal, TakeOff::star}) {
      SCOPED_TRACE(fmt::format("{} packs, {}", ohms.size(), layout::name(take_off)));
      const Network n{std::vector<double>(ohms.size(), 53.0), ohms, 0.00025, take_off, 200.0};
      const Shared spice = by_spice(n);
      const double mean_A = n.amps / double(ohms.size());
      std::vector<base::Ohms> packs;
      for (const double R : ohms) packs.push_back(R * units::Ohm);
      Shared shared{{}, spice.bus_V};
      for (const base::Amps I :
           wiring::share_current(packs, n.link_Ohm * units::Ohm, take_off, n.amps * units::A))
        shared.amps.push_back(I.si());
      expect_same(shared, spice, mean_A, 1.0);
      expect_same(by_twin(n), spice, mean_A, 53.0 - spice.bus_V);
    }
}

// The figures of the same network by hand: 58.143 A … 44.296 A from one end, 51.220 and 48.780 A
// where the leads leave at both.
TEST(TwinAgainstSpice, finds_the_figures_by_hand_on_four_equal_packs) {
  NEEDS_SPICE();
  Network n{std::vector<double>(4, 53.0), std::vector<double>(4, 0.010), 0.00025, TakeOff::same_end,
            200.0};
  expect_same(by_spice(n), {{58.14346, 51.05064, 46.51034, 44.29556}, 52.41857}, 0.2, 0.1);
  n.take_off = TakeOff::diagonal;
  expect_same(by_spice(n), {{51.21951, 48.78049, 48.78049, 51.21951}, 52.41281}, 0.2, 0.1);
}

TEST(TwinAgainstSpice, shares_between_packs_of_unequal_voltage_and_charges_one_from_another) {
  NEEDS_SPICE();
  for (const double amps : {200.0, 0.0, -120.0})
    for (const TakeOff take_off : {TakeOff::same_end, TakeOff::diagonal, TakeOff::star}) {
      SCOPED_TRACE(fmt::format("{} A, {}", amps, layout::name(take_off)));
      const Network n{
          {53.2, 52.9, 53.0, 52.7}, {0.009, 0.010, 0.012, 0.011}, 0.0004, take_off, amps};
      expect_same(by_twin(n), by_spice(n), 50.0, 1.0);
    }
}

// R0 and both pairs at mid charge, where their factors are 1; the cell is too big for its charge to
// move, so that the source stays. Five minutes each of discharge, charge and rest.
TEST(TwinAgainstSpice, answers_a_step_of_current_second_by_second) {
  NEEDS_SPICE();
  const double r0 = 0.24e-3, r1 = 0.11e-3, r2 = 0.26e-3, tau1 = 15.0, tau2 = 160.0;
  const double amps[] = {115.0, -80.0, 0.0};
  const int stretch_s = 300, seconds = 3 * stretch_s;

  bank::Setup s;
  s.layout = {.packs = 1, .series = 1, .parallel = 1};
  s.rated_capacity = 1e9 * units::Ah;
  cell::Model m;
  m.capacity = 1e9 * units::Ah, m.hysteresis = 0.0 * units::V;
  m.r0 = r0 * units::Ohm, m.r1 = r1 * units::Ohm, m.r2 = r2 * units::Ohm;
  m.tau1 = tau1 * units::s, m.tau2 = tau2 * units::s;
  s.cells = {m};
  s.start_charge = {0.5};
  s.start = base::Temperature::from_C(25.0);
  s.thermal.heat_capacity_J_K = 1e12;
  bank::Twin twin(s);
  twin.set_step(1.0 * units::s);
  const double source_V = twin.cell_V(0);

  std::string net = fmt::format("one cell\nV0 e 0 {:.12g}\nR0 e a {}\n", source_V, r0);
  net += fmt::format("R1 a b {}\nC1 a b {:.12g} ic=0\n", r1, tau1 / r1);
  net += fmt::format("R2 b t {}\nC2 b t {:.12g} ic=0\nIL t 0 pwl(", r2, tau2 / r2);
  for (int k = 0; k < 3; ++k)
    net += fmt::format("{:.6f} {} {} {} ", k * stretch_s + (k > 0 ? 1e-6 : 0.0), amps[k],
                       (k + 1) * stretch_s, amps[k]);
  net += fmt::format(
      ")\n.options reltol=1e-7 abstol=1e-9 vntol=1e-12\n.control\nset numdgt=14\n"
      "tran 1 {} 0 0.05 uic\nlinearize v(t)\nwrdata out.txt v(t)\nquit 0\n.endc\n.end\n",
      seconds);
  const std::vector<double> spice = simulated(net);  // time and volts, from 0 on
  ASSERT_EQ(spice.size(), 2u * (seconds + 1));

  double worst_V = 0.0;
  for (int t = 1; t <= seconds; ++t) {
    twin.step({Demand::Kind::current, amps[(t - 1) / stretch_s]}, 25.0);
    const auto row = 2 * std::size_t(t);
    ASSERT_NEAR(spice[row], t, 1e-6);
    if (t % stretch_s == 0 && t < seconds) continue;  // both answers hold where the current jumps
    const double drop_V = std::abs(source_V - spice[row + 1]);
    worst_V = std::max(worst_V, std::abs(twin.cell_V(0) - spice[row + 1]));
    EXPECT_NEAR(twin.cell_V(0), spice[row + 1], std::max(part * drop_V, 1e-5)) << t << " s";
  }
  std::printf("worst of %d s: %.2e V\n", seconds, worst_V);
  EXPECT_LT(worst_V, 1e-5);
}

}  // namespace
