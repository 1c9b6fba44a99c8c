// SPDX-License-Identifier: Apache-2.0
#include "money/money.hpp"

#include <cmath>
#include <vector>

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

std::optional<double> discounted_payback(double rate, std::span<const double> flows) {
  std::vector<double> sum;
  double total = 0.0, factor = 1.0;
  for (const double flow : flows) {
    total += flow * factor;
    sum.push_back(total);
    factor /= 1.0 + rate;
  }
  if (sum.empty() || sum.back() < 0.0) return std::nullopt;
  std::size_t t = sum.size();
  while (t > 0 && sum[t - 1] >= 0.0) --t;
  if (t == 0) return 0.0;
  return double(t - 1) + -sum[t - 1] / (sum[t] - sum[t - 1]);
}

double annuity(double rate, double years) {
  if (std::abs(rate) < 1e-12) return 1.0 / years;
  const double growth = std::pow(1.0 + rate, years);
  return rate * growth / (growth - 1.0);
}

LifetimeCostResult lifetime_cost(const LifetimeCost& in) {
  CHECK(in.usable_kWh > 0.0 && in.cycles_year > 0.0 && in.rated_cycles > 0.0 &&
        in.shelf_years > 0.0);
  CHECK(in.end_share > 0.0 && in.end_share < 1.0 && in.round_trip > 0.0);
  const double cd = 1.0 - std::pow(in.end_share, 1.0 / in.rated_cycles),
               td = 1.0 - std::pow(in.end_share, 1.0 / in.shelf_years);
  LifetimeCostResult r;
  r.years = std::log(in.end_share) / (std::log(1.0 - td) + in.cycles_year * std::log(1.0 - cd));
  double upkeep = 0.0, charging = 0.0;
  for (int n = 1; double(n - 1) < r.years; ++n) {
    const double part = std::min(1.0, r.years - double(n - 1));  // of the last year
    const double factor = std::pow(1.0 + in.rate, -double(n));
    const double out_kWh = part * in.cycles_year * in.depth * in.usable_kWh *
                           std::pow(1.0 - cd, double(n - 1) * in.cycles_year) *
                           std::pow(1.0 - td, double(n - 1));
    r.discounted_kWh += out_kWh * factor;
    charging += out_kWh / in.round_trip * in.energy_price * factor;
    upkeep += part * in.upkeep_year * factor;
  }
  const double end = in.end_value * std::pow(1.0 + in.rate, -(r.years + 1.0));
  r.investment = (in.investment - end) / r.discounted_kWh;
  r.upkeep = upkeep / r.discounted_kWh;
  r.charging = charging / r.discounted_kWh;
  return r;
}

}  // namespace money
