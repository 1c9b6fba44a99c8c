// SPDX-License-Identifier: Apache-2.0
// The devices of the twin: what BMS, inverter, charger and balancers see at the end of a step, and
// do.
#include <algorithm>
#include <cmath>

#include "bank/twin.hpp"

namespace bank {

void Twin::watch_packs() {
  const layout::BmsLimits& bms = limits_.bms;
  for (int k = 0; k < packs_count_; ++k) {
    Gate& gate = gates_[std::size_t(k)];
    const double I = packs_[std::size_t(k)].current_A;
    const double low = lowest_V_[std::size_t(k)], high = highest_V_[std::size_t(k)];
    const auto which = [&](double V) {
      for (int g = 0; g < series_; ++g)
        if (reading_V(k, g) == V) return g;
      return -1;
    };
    // Above the limit for as long as the delay says; let go below the release.
    gate.high_s = high > bms.cell_high.si() ? gate.high_s + step_s_ : 0.0;
    gate.low_s = low < bms.cell_low.si() ? gate.low_s + step_s_ : 0.0;
    if (!gate.high && gate.high_s >= bms.voltage_delay.si() && gate.high_s > 0.0) {
      if (gate.charges()) note(Event::Kind::cell_high, k, which(high), high);
      gate.high = true;
    } else if (gate.high && high < bms.cell_high_release.si()) {
      gate.high = false;
      note(Event::Kind::released, k, -1, high);
    }
    if (!gate.low && gate.low_s >= bms.voltage_delay.si() && gate.low_s > 0.0) {
      if (gate.discharges()) note(Event::Kind::cell_low, k, which(low), low);
      gate.low = true;
    } else if (gate.low && low > bms.cell_low_release.si()) {
      gate.low = false;
      note(Event::Kind::released, k, -1, low);
    }
    const double most = I > 0.0 ? bms.discharge_max.si() : bms.charge_max.si();
    gate.current_s = most > 0.0 && std::abs(I) > most ? gate.current_s + step_s_ : 0.0;
    if (gate.current_s >= bms.current_delay.si() && gate.current_s > 0.0 && !gate.stuck) {
      gate.off = true;  // stays open until somebody closes it
      note(Event::Kind::over_current, k, -1, std::abs(I));
    }
    if (since_warm_s_ <= 0.0) watch_temperatures(k);  // else they are as they were
  }
}

/// The cells' temperatures, which a BMS is taken to know of every cell.
void Twin::watch_temperatures(int k) {
  const layout::BmsLimits& bms = limits_.bms;
  Gate& gate = gates_[std::size_t(k)];
  const double I = packs_[std::size_t(k)].current_A;
  const double cold = coldest_C_[std::size_t(k)], hot = hottest_C_[std::size_t(k)];
  if (!gate.cold && cold < bms.charge_stop.in_C()) {
    if (gate.charges()) note(Event::Kind::too_cold, k, -1, cold);
    gate.cold = true;
  } else if (cold > bms.charge_release.in_C()) {
    gate.cold = false;
  }
  const bool too_hot = hot > (I < 0.0 ? bms.charge_hot.in_C() : bms.discharge_hot.in_C());
  if (!gate.hot && too_hot) {
    gate.hot = true;
    note(Event::Kind::too_hot, k, -1, hot);
  } else if (hot < bms.charge_hot.in_C() - 5.0) {  // common practice, no source
    gate.hot = false;
  }
}

void Twin::watch_bus() {
  const layout::InverterLimits& inverter = limits_.inverter;
  bus_low_s_ = bus_V_ < inverter.stop_per_cell.si() * series_ ? bus_low_s_ + step_s_ : 0.0;
  if (!stopped_ && bus_A_ > 0.0 && bus_low_s_ >= inverter.stop_delay.si()) {
    stopped_ = true;
    note(Event::Kind::bus_low, -1, -1, bus_V_);
  } else if (stopped_ && bus_V_ > inverter.restart_per_cell.si() * series_) {
    stopped_ = false;
    note(Event::Kind::bus_restart, -1, -1, bus_V_);
  }
  const bool high = bus_V_ > inverter.charge_stop_per_cell.si() * series_;
  if (high && !told_high_) note(Event::Kind::bus_high, -1, -1, bus_V_), told_high_ = true;
  no_charge_ = high || (no_charge_ && bus_V_ > limits_.charger.float_per_cell.si() * series_);
  if (!full_ && held_ && -bus_A_ < tail_A_ && bus_V_ > 0.0) {
    full_ = true;
    note(Event::Kind::charge_full, -1, -1, -bus_A_);
  } else if (full_ && bus_V_ < limits_.charger.recharge_per_cell.si() * series_) {
    full_ = false;
    note(Event::Kind::charge_again, -1, -1, bus_V_);
  }
}

void Twin::balance() {
  const layout::BalancerLimits& balancer = limits_.balancer;
  bool any = false;
  for (int k = 0; k < packs_count_; ++k) {
    const auto first = std::size_t(k * stride_);
    const double low = lowest_V_[std::size_t(k)], high = highest_V_[std::size_t(k)];
    const bool works = balancer.current.si() > 0.0 && high > balancer.start.si() &&
                       high - low > balancer.window.si();
    if (!works && !bleeding_) continue;
    bool moved = false;
    for (int g = 0; g < series_; ++g) {
      const double V = reading_V(k, g);
      double bleed = 0.0;
      if (works && balancer.moves) {
        bleed = V == high
                    ? balancer.current.si()
                    : (V == low && !moved ? -balancer.current.si() * balancer.efficiency : 0.0);
        moved = moved || bleed < 0.0;
      } else if (works && V > balancer.start.si() && V - low > balancer.window.si()) {
        bleed = balancer.current.si();
      }
      group_bleed_A_[first + std::size_t(g)] = bleed;
      any = any || bleed != 0.0;
    }
  }
  bleeding_ = any;
}

}  // namespace bank
