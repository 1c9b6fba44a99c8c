// SPDX-License-Identifier: Apache-2.0
// Laws that the twin keeps whatever is asked of it.
#include <cmath>
#include <cstring>
#include <random>

#include <gtest/gtest.h>

#include "bank/answers.hpp"
#include "bank/rehearsal.hpp"
#include "bank/simulate.hpp"
#include "base/input_error.hpp"

namespace {

namespace units = base::units;
using bank::Demand;

bank::Setup bank_of(int packs, int series, int parallel, unsigned seed = 1, double charge = 0.5) {
  std::mt19937_64 engine(seed);
  const auto draw = [&] { return double(engine() >> 11) * 0x1.0p-53 - 0.5; };
  bank::Setup s;
  s.layout.packs = packs, s.layout.series = series, s.layout.parallel = parallel;
  s.rated_capacity = 230.0 * units::Ah;
  for (int i = 0; i < s.layout.places(); ++i) {
    s.cells.push_back(cell::Model::scaled((230.0 + 8.0 * draw()) * units::Ah,
                                          (0.5 + 0.1 * draw()) * units::mOhm));
    s.cells.back().leak = 0.003 * units::A;
    s.start_charge.push_back(charge + 0.02 * draw());
  }
  return s;
}

/// A day of anything: charge, discharge, rest, by power and by current.
double asked_W(int minute) {
  static constexpr double watts[] = {3000, 0, -2500, 4500, -4000, 800, 0, -1200};
  return watts[(minute / 37) % 8];
}

TEST(Twin, gives_the_same_bits_with_wide_vectors_and_without) {
  std::vector<const bank::kernel::Functions*> sets = {&bank::kernel::best()};
#if defined(__x86_64__)
  if (__builtin_cpu_supports("x86-64-v3") != 0) sets.push_back(&bank::kernel::wide);
#endif
  for (const auto* functions : sets)
    for (const auto& [packs, series, parallel] : {std::tuple{3, 16, 1}, {2, 15, 2}, {1, 4, 3}}) {
      bank::Setup a = bank_of(packs, series, parallel), b = a;
      a.functions = &bank::kernel::plain;
      b.functions = functions;
      bank::Twin x(a), y(b);
      for (int m = 0; m < 1440; ++m) {
        const Demand d{Demand::Kind::power, asked_W(m) * packs * series / 32.0};
        x.step(d, 20.0), y.step(d, 20.0);
      }
      for (int c = 0; c < x.cells(); ++c) {
        const double u[] = {x.cell_V(c), x.charge(c), x.temperature_C(c), x.cell_A(c)},
                     v[] = {y.cell_V(c), y.charge(c), y.temperature_C(c), y.cell_A(c)};
        EXPECT_EQ(std::memcmp(u, v, sizeof u), 0) << c;
      }
      const double p = x.bus_V(), q = y.bus_V();
      EXPECT_EQ(std::memcmp(&p, &q, sizeof p), 0);
    }
}

TEST(Twin, keeps_charge_and_energy_to_a_millionth) {
  for (const double step_s : {1.0, 10.0, 60.0}) {
    bank::Setup s = bank_of(2, 8, 2, 3, 0.95);
    s.limits.balancer.start = 3.3 * units::V;  // so that it works much of the time
    s.limits.balancer.window = 1.0 * units::mV;
    s.limits.balancer.current = 1.0 * units::A;
    bank::Twin twin(s);
    const auto charge_As = [&] {
      double sum = 0.0;
      for (int c = 0; c < twin.cells(); ++c)
        sum += twin.charge(c) * s.cells[std::size_t(c)].capacity.si();
      return sum;
    };
    const double before_As = charge_As(), before_J = twin.stored_J();
    twin.set_step(step_s * units::s);
    double through_As = 0.0, pack_As = 0.0;
    for (double t = 0.0; t < 43200.0; t += step_s) {
      twin.step({Demand::Kind::power, asked_W(int(t / 60.0)) * 0.5}, 20.0);
      for (int k = 0; k < 2; ++k) pack_As += twin.pack_A(k) * step_s * s.layout.series;
      through_As += std::abs(twin.bus_A()) * step_s * s.layout.series;
    }
    const bank::Book book = twin.book();
    EXPECT_GT(book.bled_As, 0.0);
    EXPECT_NEAR(before_As - charge_As(), pack_As + book.bled_As + book.leaked_As,
                1e-6 * through_As);
    // What leaked took its energy along: taken at the mean voltage that the cells showed.
    const double leaked_J = book.leaked_As * 3.3;
    EXPECT_NEAR(
        before_J - twin.stored_J(),
        book.out_J + book.cells_heat_J + book.path_heat_J + book.bled_J + leaked_J,
        (step_s < 60.0 ? 1e-6 : 1e-5) * (book.charged_J + book.discharged_J) + 0.05 * leaked_J)
        << step_s;
  }
}

TEST(Twin, loses_in_its_paths_what_resistance_and_current_say) {
  bank::Setup s = bank_of(1, 16, 1);
  bank::Twin twin(s);
  twin.set_step(10.0 * units::s);
  const double path = s.layout.link.si() * 15 + s.layout.joint.si() * 32 +
                      s.layout.pack_extra.si() + 2.0 * s.layout.lead.si() * 0.0;
  double expected = 0.0;
  for (int i = 0; i < 360; ++i) {
    twin.step({Demand::Kind::current, 80.0}, 20.0);
    expected += 80.0 * 80.0 * path * 10.0;
  }
  EXPECT_NEAR(twin.book().path_heat_J, expected, 1e-3 * expected);
}

TEST(Twin, charges_to_the_held_voltage_tapers_and_then_floats) {
  bank::Setup s = bank_of(2, 16, 1, 5, 0.9);
  s.start_charge.assign(s.start_charge.size(), 0.9);
  bank::Twin twin(s);
  twin.set_step(10.0 * units::s);
  double last_A = -1e9;
  bool held = false, taper_falls = true;
  for (int m = 0; m < 3600; ++m) {
    twin.step({Demand::Kind::current, -100.0}, 25.0);
    EXPECT_LE(twin.bus_V(), 16 * 3.50 + 0.05);
    if (held && !twin.charge_full()) taper_falls = taper_falls && twin.bus_A() >= last_A - 0.5;
    held = held || twin.bus_A() > -99.9;
    last_A = twin.bus_A();
  }
  EXPECT_TRUE(taper_falls);
  EXPECT_TRUE(twin.charge_full());
  EXPECT_NEAR(twin.bus_A(), 0.0, 1.0);
  ASSERT_GE(twin.events().size(), 2u);
  EXPECT_EQ(twin.events()[0].kind, bank::Event::Kind::charge_held);
  EXPECT_EQ(twin.events()[1].kind, bank::Event::Kind::charge_full);
}

TEST(Twin, stops_at_the_inverter_before_the_bms_and_opens_where_a_cell_is_weak) {
  bank::Setup s = bank_of(1, 16, 1, 7, 0.4);
  bank::Twin sound(s);
  for (int m = 0; m < 600; ++m) sound.step({Demand::Kind::current, 40.0}, 25.0);
  ASSERT_FALSE(sound.events().empty());
  EXPECT_EQ(sound.events()[0].kind, bank::Event::Kind::bus_low);
  s.cells[6] = cell::Model::scaled(150.0 * units::Ah, 0.7 * units::mOhm);
  s.start_charge[6] = 0.2;
  bank::Twin weak(s);
  for (int m = 0; m < 600; ++m) weak.step({Demand::Kind::current, 40.0}, 25.0);
  ASSERT_FALSE(weak.events().empty());
  EXPECT_EQ(weak.events()[0].kind, bank::Event::Kind::cell_low);
  EXPECT_EQ(weak.events()[0].group, 6);
  EXPECT_NEAR(weak.bus_A(), 0.0, 1e-9);
}

TEST(Twin, refuses_to_charge_in_the_cold_and_lets_discharge) {
  bank::Setup s = bank_of(1, 16, 1);
  s.start = base::Temperature::from_C(-5.0);
  bank::Twin twin(s);
  for (int m = 0; m < 20; ++m) twin.step({Demand::Kind::current, -50.0}, -5.0);
  EXPECT_EQ(twin.bus_A(), 0.0);
  EXPECT_EQ(twin.events().front().kind, bank::Event::Kind::too_cold);
  for (int m = 0; m < 5; ++m) twin.step({Demand::Kind::current, 50.0}, -5.0);
  EXPECT_NEAR(twin.bus_A(), 50.0, 1e-9);
}

TEST(Twin, gives_what_it_can_where_more_is_asked_and_says_so) {
  bank::Setup s = bank_of(1, 16, 1);
  bank::Twin twin(s);
  twin.set_step(1.0 * units::s);
  twin.step({Demand::Kind::power, 1e6}, 20.0);
  EXPECT_GT(twin.bus_A(), 0.0);
  EXPECT_LT(twin.bus_A() * twin.bus_V(), 1e6);
  EXPECT_EQ(bank::findings_of(twin).front().id, findings::Id::power_curtailed);
}

TEST(Twin, refuses_steps_cells_and_counts_that_cannot_be) {
  bank::Setup s = bank_of(1, 4, 1);
  bank::Twin twin(s);
  EXPECT_THROW(twin.set_step(121.0 * units::s), base::InputError);
  EXPECT_THROW(twin.set_step(0.0 * units::s), base::InputError);
  s.cells[2].r0 = {};
  EXPECT_THROW(bank::Twin{s}, base::InputError);
  s = bank_of(1, 4, 1);
  s.start_charge[1] = 1.2;
  EXPECT_THROW(bank::Twin{s}, base::InputError);
  s = bank_of(1, 4, 1);
  s.cells.pop_back();
  EXPECT_THROW(bank::Twin{s}, base::InputError);
}

// Common practice, no source (figures of two decimals): discharge at 0.2C runs between 3.17
// and 3.30 V over the middle 70 % of charge, charging between 3.25 and 3.38 V.
TEST(Twin, runs_on_the_plateau_that_people_know) {
  for (const double sign : {1.0, -1.0}) {
    bank::Setup s = bank_of(1, 1, 1);
    s.cells[0] = cell::Model::scaled(230.0 * units::Ah);
    s.start_charge[0] = sign > 0.0 ? 0.99 : 0.01;
    s.start = base::Temperature::from_C(25.0);
    s.limits.bms.cell_low = 2.0 * units::V;
    s.limits.inverter.stop_per_cell = 2.0 * units::V;
    bank::Twin twin(s);
    for (int m = 0; m < 280; ++m) {
      twin.step({Demand::Kind::current, sign * 46.0}, 25.0);
      if (twin.charge(0) < 0.15 || twin.charge(0) > 0.85) continue;
      EXPECT_GE(twin.cell_V(0), (sign > 0.0 ? 3.17 : 3.25) - 0.005) << twin.charge(0);
      EXPECT_LE(twin.cell_V(0), (sign > 0.0 ? 3.30 : 3.38) + 0.005) << twin.charge(0);
    }
  }
}

bank::RehearsalInput input_of(int packs, double power_W = 4000.0) {
  bank::RehearsalInput in;
  in.setup = bank_of(packs, 16, 1);
  in.power_W = power_W;
  in.fuse_A = 125.0;
  in.short_low_A = 2000.0 * packs, in.short_high_A = 9000.0 * packs;
  return in;
}

TEST(Rehearsals, each_end_in_a_finding_with_its_evidence_and_the_same_every_time) {
  for (const int packs : {1, 2, 4})
    for (const bank::RehearsalKind& kind : bank::rehearsal_kinds()) {
      const auto in = input_of(packs);
      const bank::Rehearsal r = bank::rehearse(kind.name, in),
                            again = bank::rehearse(kind.name, in);
      EXPECT_EQ(r.finding.id, kind.finding);
      EXPECT_EQ(findings::word(kind.finding), "rehearsal-" + std::string(kind.name));
      EXPECT_FALSE(r.finding.what.empty() || r.finding.remedy.empty() || r.seen.empty())
          << kind.name;
      EXPECT_FALSE(r.caught_by.empty()) << kind.name;
      EXPECT_EQ(r.seen, again.seen);
      for (const bank::Trace& t : r.traces) {
        EXPECT_EQ(t.values.size(), r.times_s.size()) << kind.name;
        for (const double v : t.values) EXPECT_TRUE(std::isfinite(v)) << kind.name;
      }
    }
}

TEST(Rehearsals, are_caught_by_what_should_catch_them) {
  const auto in = input_of(2);
  EXPECT_NE(bank::rehearse("weak-cell", in).caught_by.find("BMS stopped discharging"),
            std::string::npos);
  EXPECT_NE(bank::rehearse("broken-sense-lead", in).caught_by.find("BMS stopped charging"),
            std::string::npos);
  EXPECT_NE(bank::rehearse("cold-morning", in).caught_by.find("BMS stopped charging at -4"),
            std::string::npos);
  EXPECT_NE(bank::rehearse("wrong-cell-count", in).caught_by.find("inverter stopped charging"),
            std::string::npos);
  EXPECT_EQ(bank::rehearse("loose-joint", in).caught_by, "nothing");
  // With one pack fewer the rest carries everything: too much for a small fuse, not for a large
  // one.
  auto small = input_of(3, 9000.0);
  small.fuse_A = 63.0;
  EXPECT_EQ(bank::rehearse("pack-drops-out", small).finding.severity, findings::Severity::stop);
  small.fuse_A = 200.0;
  EXPECT_EQ(bank::rehearse("pack-drops-out", small).finding.severity, findings::Severity::caution);
  auto weak = input_of(2);
  weak.short_low_A = 400.0;
  EXPECT_EQ(bank::rehearse("bus-short", weak).finding.severity, findings::Severity::stop);
}

TEST(Usable, names_the_cell_that_ends_it_and_why) {
  bank::Setup s = bank_of(2, 16, 1);
  s.start_charge.assign(s.start_charge.size(), 1.0);
  s.cells[20] = cell::Model::scaled(200.0 * units::Ah, 0.5 * units::mOhm);
  bank::Usable u = bank::usable(s, 4000.0, 20.0);
  EXPECT_EQ(u.weakest_cell, 20);
  EXPECT_EQ(u.why, bank::Usable::Why::holds_least);
  EXPECT_GT(u.Wh, 15000.0);
  const double with_small = u.Wh;
  s = bank_of(2, 16, 1);
  s.start_charge.assign(s.start_charge.size(), 1.0);
  EXPECT_GT(bank::usable(s, 4000.0, 20.0).Wh, with_small);
  s.start_charge[3] = 0.85;
  u = bank::usable(s, 4000.0, 20.0);
  EXPECT_EQ(u.weakest_cell, 3);
  EXPECT_EQ(u.why, bank::Usable::Why::started_lowest);
  // Colder: less.
  EXPECT_LT(bank::usable(s, 4000.0, 0.0).Wh, u.Wh);
}

TEST(Balance, ends_sooner_with_more_current_and_in_parallel_by_itself) {
  bank::Setup s = bank_of(1, 8, 1);
  for (std::size_t i = 0; i < 8; ++i) s.start_charge[i] = 0.96 + 0.002 * double(i);
  s.limits.balancer.current = 0.2 * units::A;
  const auto slow = bank::balance_in_pack(s, 23.0, 20.0, 1.0, 500.0);
  s.limits.balancer.current = 2.0 * units::A;
  const auto fast = bank::balance_in_pack(s, 23.0, 20.0, 1.0, 500.0);
  EXPECT_TRUE(slow.done && fast.done);
  EXPECT_LT(fast.hours, 0.5 * slow.hours);
  s.limits.balancer.moves = true;
  EXPECT_TRUE(bank::balance_in_pack(s, 23.0, 20.0, 1.0, 500.0).done);
  const auto top = bank::parallel_top_balance(s, 10.0, 3.65, 20.0);
  EXPECT_TRUE(top.done);
  EXPECT_LT(top.spread_Ah, 0.5);
  double missing = 0.0;
  for (std::size_t i = 0; i < 8; ++i)
    missing += (1.0 - s.start_charge[i]) * s.cells[i].capacity.in(units::Ah);
  EXPECT_NEAR(top.hours_to_voltage, missing / 10.0, 0.1 * missing / 10.0);
  // From as they come: charged as a pack first, little is left for the supply.
  for (double& charge : s.start_charge) charge -= 0.66;
  const auto alone = bank::parallel_top_balance(s, 10.0, 3.65, 20.0);
  const auto first = bank::series_then_parallel(s, 46.0, 10.0, 3.65, 20.0);
  EXPECT_TRUE(first.parallel.done);
  EXPECT_LT(first.series_hours + first.parallel.hours, 0.3 * alone.hours);
  // The fullest cell ends the series charge; the others then lack what they lacked at the start.
  double fullest = 1e9, sum = 0.0;
  for (std::size_t i = 0; i < 8; ++i) {
    const double lacks = (1.0 - s.start_charge[i]) * s.cells[i].capacity.in(units::Ah);
    fullest = std::min(fullest, lacks), sum += lacks;
  }
  EXPECT_NEAR(first.series_hours, fullest / 46.0, 0.05 * fullest / 46.0);
  EXPECT_NEAR(first.parallel.hours_to_voltage, (sum - 8.0 * fullest) / 10.0,
              0.4 * (sum - 8.0 * fullest) / 10.0);
}

}  // namespace
