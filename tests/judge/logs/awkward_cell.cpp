// SPDX-License-Identifier: Apache-2.0
// The cell and the tester behind the awkward logs.
#include <algorithm>
#include <cmath>

#include "tests/judge/logs/awkward.hpp"

namespace judge {
namespace {

/// A rested cell's voltage: twelve parameters fitted to a published table. [Sunil2025]
double rested_V(double charge) {
  const double z = std::max(charge, 0.0);
  const double low = -0.712792 * std::exp(-33.4319 * z),
               high = 0.243561 * std::exp(217.167 * std::min(z - 1.0, 0.002));
  return 3.25933 + 0.0406601 * z + low + high + 0.0324497 * std::tanh((z - 0.238846) / 0.0810683) +
         0.0128885 * std::tanh((z - 0.710859) / 0.0391256);
}

struct Cell {
  double capacity_Ah, ohm, slow_ohm, tau_s;
  double charge = 0.0, lag_A = 0.0;
  double volts(double amps) const { return rested_V(charge) - ohm * amps - slow_ohm * lag_A; }
  void run(double amps, double seconds) {
    charge -= amps * seconds / 3600.0 / capacity_Ah;
    const double decay = std::exp(-seconds / tau_s);
    lag_A = lag_A * decay + amps * (1.0 - decay);
  }
};

class Tester {
 public:
  Tester(Draws& draws, Truth& truth, Cell cell, double row_s, double room_C)
      : draws_(draws), t_(truth), cell_(cell), row_s_(row_s), room_C_(room_C) {}

  void rest(double seconds) {
    begin();
    for (double s = 0.0; s < seconds; s += row_s_) advance(0.0);
  }
  void charge(double amps, double limit_V, double tail_A) {
    begin();
    while (cell_.volts(-amps) < limit_V && cell_.charge < 1.2) advance(-amps);
    double now = amps;
    for (int k = 0; k < 4000 && now > tail_A; ++k) {
      now = std::min(
          now, (limit_V - rested_V(cell_.charge) - cell_.slow_ohm * -cell_.lag_A) / cell_.ohm);
      if (now <= tail_A) break;
      advance(-now);
    }
  }
  void discharge(double amps, double limit_V) {
    begin();
    while (cell_.volts(amps) > limit_V && cell_.charge > -0.05) advance(amps);
  }

 private:
  void begin() {
    ++step_;
    moved_As_ = moved_Ws_ = 0.0;
  }
  /// The tester holds a current until the next row, and counts as it goes.
  void advance(double amps) {
    const double shown = amps == 0.0 ? 0.0 : amps * (1.0 + 2e-4 * draws_.normal());
    t_.time_s.push_back(now_s_);
    t_.voltage_V.push_back(cell_.volts(amps) + 1e-4 * draws_.normal());
    t_.current_A.push_back(shown);
    t_.temperature_C.push_back(room_C_ + 3.0 * std::abs(amps) / cell_.capacity_Ah +
                               0.05 * draws_.normal());
    t_.step.push_back(step_);
    t_.charge_Ah.push_back(moved_As_ / 3600.0);
    t_.energy_Wh.push_back(moved_Ws_ / 3600.0);
    moved_As_ += std::abs(amps) * row_s_;
    moved_Ws_ += std::abs(amps) * row_s_ * t_.voltage_V.back();
    cell_.run(amps, row_s_);
    now_s_ += row_s_;
  }

  Draws& draws_;
  Truth& t_;
  Cell cell_;
  double row_s_, room_C_, now_s_ = 0.0, moved_As_ = 0.0, moved_Ws_ = 0.0;
  int step_ = 0;
};

}  // namespace

double Draws::normal() {
  const double u = uniform() + 0x1.0p-54;
  return std::sqrt(-2.0 * std::log(u)) * std::cos(6.283185307179586 * uniform());
}

Truth draw_test(Draws& draws) {
  Truth t;
  const double capacity = std::exp(draws.within(std::log(4.0), std::log(320.0)));
  Cell cell{.capacity_Ah = capacity,
            .ohm = draws.within(0.04, 0.12) / capacity,
            .slow_ohm = draws.within(0.02, 0.06) / capacity,
            .tau_s = draws.within(20.0, 120.0),
            .charge = draws.within(0.02, 0.5)};
  const double amps = capacity * draws.within(0.2, 0.5);
  const double row_s = draws.one_of(std::vector<double>{5.0, 10.0, 10.0, 30.0, 60.0});
  Tester tester(draws, t, cell, row_s, draws.within(12.0, 30.0));
  if (draws.chance(0.5)) tester.rest(300.0);
  const bool pause = draws.chance(0.85);
  if (draws.chance(0.85)) {
    tester.charge(amps, 3.65, 0.05 * capacity);
    if (pause) tester.rest(draws.within(300.0, 3600.0));
    tester.discharge(amps, 2.5);
    if (draws.chance(0.7)) tester.rest(draws.within(300.0, 1800.0));
  } else {
    tester.charge(amps, 3.65, 0.05 * capacity);
    tester.rest(600.0);
  }
  // What a reader can know: each row stands for half the interval on either side.
  for (std::size_t k = 0; k < t.time_s.size(); ++k) {
    const double before = k > 0 ? t.time_s[k] - t.time_s[k - 1] : 0.0,
                 after = k + 1 < t.time_s.size() ? t.time_s[k + 1] - t.time_s[k] : 0.0;
    const double moved = t.current_A[k] * 0.5 * (before + after) / 3600.0;
    (moved > 0.0 ? t.discharged_Ah : t.charged_Ah) += std::abs(moved);
  }
  return t;
}

}  // namespace judge
