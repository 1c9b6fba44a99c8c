// SPDX-License-Identifier: Apache-2.0
#include "life/wear.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"

namespace life {
namespace {

constexpr double wang_power = 0.55;

/// A loss that goes with the root of its cause, carried on by what the same cause alone would lose.
double carried(double loss, double more) { return std::sqrt(loss * loss + more * more); }

}  // namespace

const char* name(Law law) {
  return law == Law::naumann ? "naumann" : law == Law::schimpe ? "schimpe" : "wang";
}

void Wear::add(const Use& use) {
  CHECK(use.time.si() >= 0.0 && use.full_cycles >= 0.0);
  Cycling c{.c_rate = use.c_rate,
            .depth = std::clamp(use.depth, 0.01, 1.0),
            .full_cycles = use.full_cycles,
            .temperature = use.temperature,
            .mean_charge = use.mean_charge};
  const double charge = std::clamp(use.mean_charge, 0.0, 1.0);
  switch (law_) {
    case Law::naumann:
      calendar_ = carried(
          calendar_, calendar_loss(CalendarLaw::naumann_2018, use.temperature, charge, use.time));
      warm_ = carried(warm_, cycle_loss(CycleLaw::naumann_2020, c));
      break;
    case Law::schimpe: {
      calendar_ = carried(
          calendar_, calendar_loss(CalendarLaw::schimpe_2018, use.temperature, charge, use.time));
      const SchimpeParts parts = schimpe_parts(c);
      warm_ = carried(warm_, parts.warm);
      cold_ = carried(cold_, parts.cold);
      linear_ += parts.cold_high;
      break;
    }
    case Law::wang: {
      // (l^(1/p) + m^(1/p))^p
      const double more = cycle_loss(CycleLaw::wang_2011, c);
      warm_ = std::pow(std::pow(warm_, 1.0 / wang_power) + std::pow(more, 1.0 / wang_power),
                       wang_power);
      break;
    }
  }
}

double Wear::loss() const { return calendar_ + warm_ + cold_ + linear_; }

}  // namespace life
