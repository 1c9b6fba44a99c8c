// SPDX-License-Identifier: Apache-2.0
#include "money/money.hpp"

#include <cmath>

#include "base/check.hpp"
#include "base/statistics.hpp"

namespace money {

Landed landed_cost(const Purchase& p) {
  CHECK(p.quantity >= 1);
  Landed landed;
  landed.customs_value = p.unit_price * double(p.quantity) + p.freight + p.insurance;
  landed.duty = landed.customs_value * p.duty_share;
  landed.vat = (landed.customs_value + landed.duty) * p.vat_share;
  landed.total = landed.customs_value + landed.duty + landed.vat + p.fees;
  landed.per_unit = landed.total / double(p.quantity);
  return landed;
}

double present_value(double rate, std::span<const double> flows) {
  CHECK(rate > -1.0);
  double value = 0.0, factor = 1.0;
  for (const double flow : flows) {
    value += flow * factor;
    factor /= 1.0 + rate;
  }
  return value;
}

int sign_changes(std::span<const double> flows) {
  int changes = 0;
  double last = 0.0;
  for (const double flow : flows) {
    if (flow == 0.0) continue;
    changes += last * flow < 0.0;
    last = flow;
  }
  return changes;
}

std::optional<double> internal_rate(std::span<const double> flows) {
  const auto value = [&](double rate) { return present_value(rate, flows); };
  // Walk outwards from zero on both sides until a sign changes, then halve the bracket.
  const auto bisect = [&](double low, double high) {
    const double at_low = value(low);
    for (int i = 0; i < 200; ++i) {
      const double middle = 0.5 * (low + high);
      if (middle == low || middle == high) break;
      (value(middle) * at_low > 0.0 ? low : high) = middle;
    }
    return 0.5 * (low + high);
  };
  if (value(0.0) == 0.0) return 0.0;
  double up = 0.0, down = 0.0;
  for (double step = 0.005; up < 100.0; step *= 1.05) {
    const double next_up = std::min(up + step, 100.0);
    if (value(up) * value(next_up) <= 0.0) return bisect(up, next_up);
    up = next_up;
    const double next_down = std::max(down - step, -0.99);
    if (next_down < down && value(down) * value(next_down) <= 0.0) return bisect(down, next_down);
    down = next_down;
  }
  return std::nullopt;
}

Levelised storage_cost(const Storage& s) {
  CHECK(s.years >= 1 && s.rate > -1.0 && s.round_trip > 0.0);
  double energy = 0.0, upkeep = 0.0, yearly = s.usable_kWh * s.full_cycles_per_year, factor = 1.0;
  for (int year = 1; year <= s.years; ++year) {
    factor /= 1.0 + s.rate;
    energy += yearly * factor;
    upkeep += s.upkeep_per_year * factor;
    yearly *= 1.0 - s.fade_per_year;
  }
  CHECK(energy > 0.0);
  return {s.capital / energy, upkeep / energy, s.energy_price / s.round_trip};
}

Order spares(int needed, double reject_share, double confidence) {
  CHECK(needed >= 1 && reject_share >= 0.0 && reject_share < 1.0 && confidence < 1.0);
  Order order{needed, base::binomial_at_least(needed, 1.0 - reject_share, needed)};
  while (order.odds < confidence) {
    ++order.order;
    order.odds = base::binomial_at_least(order.order, 1.0 - reject_share, needed);
  }
  return order;
}

}  // namespace money
