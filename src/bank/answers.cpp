// SPDX-License-Identifier: Apache-2.0
#include "bank/answers.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"
#include "base/statistics.hpp"

namespace bank {
namespace units = base::units;

const char* words(Usable::Why why) {
  switch (why) {
    case Usable::Why::holds_least:
      return "it holds the least";
    case Usable::Why::started_lowest:
      return "it was less full than the others at the start";
    case Usable::Why::resists_most:
      return "its resistance is the highest, so it sags first";
    case Usable::Why::shares_its_group:
      return "its group holds the least together";
  }
  return "";
}

Usable usable(const Setup& setup, double power_W, double room_C, double step_s) {
  Twin twin(setup);
  Usable answer;
  Profile profile{Demand::Kind::power, {{0.0, power_W}, {400.0 * 3600.0, 0.0}}};
  const Run run = play(twin, profile, step_s, room_C, [&](const Twin& t) {
    if (t.bus_A() > 0.0) {
      answer.hours = t.time_s() / 3600.0;
      answer.weakest_V = 1e300;
      for (int c = 0; c < t.cells(); ++c)
        if (t.cell_V(c) < answer.weakest_V) answer.weakest_V = t.cell_V(c), answer.weakest_cell = c;
    }
    return t.bus_A() > 0.0;
  });
  const Book book = twin.book();
  answer.Ah = book.out_As / 3600.0;
  answer.Wh = book.out_J / 3600.0;
  answer.ended_by = run.stopped_by;
  answer.hottest_C = run.hottest_C, answer.hottest_cell = run.hottest_cell;
  answer.cells_heat_Wh = book.cells_heat_J / 3600.0;
  answer.path_heat_Wh = book.path_heat_J / 3600.0;
  if (answer.weakest_cell < 0) return answer;
  // Against the median of the pack, each in what it would cost in charge given before the end.
  const auto w = std::size_t(answer.weakest_cell);
  const int per_pack = setup.layout.places_in_pack();
  const auto first = std::size_t(answer.weakest_cell / per_pack * per_pack);
  std::vector<double> capacity, start, resistance;
  for (std::size_t c = first; c < first + std::size_t(per_pack); ++c) {
    capacity.push_back(setup.cells[c].capacity.in(units::Ah));
    start.push_back(setup.start_charge[c]);
    const cell::Model& m = setup.cells[c];
    resistance.push_back((m.r0 + m.r1 + m.r2).si());
  }
  const std::size_t i = w - first;
  const double typical = base::median(capacity);
  const double by_capacity = typical - capacity[i],
               by_start = (base::median(start) - start[i]) * typical,
               more_V = (resistance[i] - base::median(resistance)) * std::abs(twin.cell_A(int(w)));
  // Near empty the curve falls by some 8 V for each unit of charge.
  const double by_resistance = more_V / 8.0 * typical;
  if (by_start > std::max(by_capacity, by_resistance))
    answer.why = Usable::Why::started_lowest;
  else if (by_resistance > by_capacity)
    answer.why = Usable::Why::resists_most;
  else if (setup.layout.parallel > 1)
    answer.why = Usable::Why::shares_its_group;
  return answer;
}

double spread_at_top_Ah(const Twin& twin, const Setup& setup) {
  double widest = 0.0;
  const int per_pack = setup.layout.places_in_pack();
  for (int k = 0; k < setup.layout.packs; ++k) {
    double least = 1e300, most = -1e300;
    for (int c = k * per_pack; c < (k + 1) * per_pack; ++c) {
      const double missing =
          (1.0 - twin.charge(c)) * setup.cells[std::size_t(c)].capacity.in(units::Ah);
      least = std::min(least, missing), most = std::max(most, missing);
    }
    widest = std::max(widest, most - least);
  }
  return widest;
}

Balancing balance_in_pack(const Setup& setup, double charge_A, double room_C, double good_Ah,
                          double most_hours) {
  Setup held = setup;
  held.limits.charger.tail_rate = 0.0;  // never to float: the charger keeps its voltage
  Twin twin(held);
  Balancing answer;
  answer.start_Ah = spread_at_top_Ah(twin, held);
  const auto steps = static_cast<long>(most_hours * 60.0);
  for (long m = 0; m <= steps; ++m) {
    const double spread = spread_at_top_Ah(twin, held);
    if (m % 60 == 0) {
      double low = 1e300, high = -1e300;
      for (int k = 0; k < held.layout.packs; ++k)
        for (int g = 0; g < held.layout.series; ++g)
          low = std::min(low, twin.group_V(k, g)), high = std::max(high, twin.group_V(k, g));
      answer.course.push_back({m / 60.0, spread, (high - low) * 1e3});
    }
    answer.end_Ah = spread;
    answer.hours = m / 60.0;
    if (spread <= good_Ah) {
      answer.done = true;
      break;
    }
    twin.step({Demand::Kind::current, -charge_A}, room_C);
  }
  return answer;
}

ParallelTop parallel_top_balance(const Setup& setup, double supply_A, double hold_V,
                                 double room_C) {
  Setup flat = setup;
  flat.layout = {};
  flat.layout.packs = 1, flat.layout.series = 1;
  flat.layout.parallel = static_cast<int>(setup.cells.size());
  flat.layout.take_off = layout::TakeOff::star;
  flat.limits.charger.per_cell = hold_V * units::V;
  flat.limits.charger.tail_rate = 0.0;
  flat.limits.inverter.charge_stop_per_cell = 5.0 * units::V;
  flat.limits.bms.cell_high = 5.0 * units::V;
  flat.limits.balancer.current = {};
  Twin twin(flat);
  ParallelTop answer;
  for (long m = 0; m < 60 * 24 * 60; ++m) {
    twin.step({Demand::Kind::current, -supply_A}, room_C);
    answer.hours = twin.time_s() / 3600.0;
    if (answer.hours_to_voltage == 0.0 && -twin.bus_A() < 0.999 * supply_A)
      answer.hours_to_voltage = answer.hours;
    if (-twin.bus_A() < supply_A / 40.0) {
      answer.done = true;
      break;
    }
  }
  answer.spread_Ah = spread_at_top_Ah(twin, flat);
  return answer;
}

SeriesThenParallel series_then_parallel(const Setup& setup, double charge_A, double supply_A,
                                        double hold_V, double room_C) {
  CHECK(setup.layout.packs == 1);
  Setup one = setup;
  one.limits.charger.per_cell = hold_V * units::V;
  one.limits.charger.tail_rate = 0.0;
  one.limits.balancer.current = {};
  one.limits.bms.cell_high = hold_V * units::V;
  one.limits.bms.voltage_delay = {};
  Twin twin(one);
  twin.set_step(10.0 * units::s);  // the last minutes are steep
  SeriesThenParallel answer;
  const double most_s = 1000.0 * 3600.0;
  while (twin.time_s() < most_s && twin.events().empty())
    twin.step({Demand::Kind::current, -charge_A}, room_C);
  answer.series_hours = twin.time_s() / 3600.0;
  answer.spread_Ah = spread_at_top_Ah(twin, one);
  Setup flat = setup;
  for (int c = 0; c < twin.cells(); ++c)
    flat.start_charge[std::size_t(c)] = std::clamp(twin.charge(c), 0.0, 1.0);
  answer.parallel = parallel_top_balance(flat, supply_A, hold_V, room_C);
  return answer;
}

}  // namespace bank
