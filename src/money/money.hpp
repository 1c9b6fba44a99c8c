// SPDX-License-Identifier: Apache-2.0
// What it costs at the door, what a kilowatt-hour out of it costs, and what money later is worth
// now.
#pragma once

#include <optional>
#include <span>

#include "base/quantity.hpp"

namespace money {

struct Purchase {
  base::Money unit_price;
  int quantity = 0;
  base::Money freight, insurance;
  double duty_share = 0.0, vat_share = 0.0;  ///< 0…1
  base::Money fees;                          ///< after VAT
};

struct Landed {
  base::Money customs_value, duty, vat, total, per_unit;
};

/// Duty on goods + freight + insurance; VAT on that + duty; fees last. Requires quantity >= 1.
[[nodiscard]] Landed landed_cost(const Purchase& purchase);

/// Σ flow_t / (1 + rate)^t, t from 0. Requires rate > −1.
[[nodiscard]] double present_value(double rate, std::span<const double> flows);

/// The rate at which the present value is zero: the root nearest to zero in (−0.99, 100), or
/// nothing.
[[nodiscard]] std::optional<double> internal_rate(std::span<const double> flows);
/// How often the flows change sign; more than once means several rates may solve it (Descartes).
[[nodiscard]] int sign_changes(std::span<const double> flows);

/// When the discounted flows have paid back what was spent: the first year from which on their sum
/// is not negative any more, linear within the year; nothing where it never comes.
[[nodiscard]] std::optional<double> discounted_payback(double rate, std::span<const double> flows);
/// Yearly payment that a sum of 1 is worth over n years: r(1+r)^n/((1+r)^n − 1); 1/n at r = 0.
[[nodiscard]] double annuity(double rate, double years);

/// Levelised cost of [Schmidt2019]: investment, upkeep and charging over what is discharged while
/// cycles and shelf life wear it down to `end_share`; life = ln(end)/(ln(1 − td) + cycles·ln(1 −
/// cd)).
struct LifetimeCost {
  double investment = 0.0, upkeep_year = 0.0, energy_price = 0.0, end_value = 0.0;
  double usable_kWh = 0.0, depth = 1.0, round_trip = 0.9, cycles_year = 250.0;
  double rated_cycles = 6000.0, shelf_years = 20.0, end_share = 0.8, rate = 0.05;
};
struct LifetimeCostResult {
  double years = 0.0, discounted_kWh = 0.0;
  double investment = 0.0, upkeep = 0.0, charging = 0.0;  ///< per kWh out
  [[nodiscard]] double total() const { return investment + upkeep + charging; }
};
[[nodiscard]] LifetimeCostResult lifetime_cost(const LifetimeCost& input);

struct Storage {
  double capital = 0.0;     ///< now
  double usable_kWh = 0.0;  ///< delivered by one full cycle in the first year
  double full_cycles_per_year = 0.0;
  int years = 0;
  double rate = 0.0;          ///< real, a year
  double round_trip = 1.0;    ///< 0…1
  double energy_price = 0.0;  ///< per kWh charged
  double upkeep_per_year = 0.0;
  double fade_per_year = 0.0;  ///< share lost each year; the first year is unfaded
};
/// Levelised cost: present value of all spending over present value of the energy delivered, with
/// flows at each year's end. The three parts add up to the whole.
struct Levelised {
  double capital, upkeep, charging;  ///< per kWh delivered
  [[nodiscard]] double total() const { return capital + upkeep + charging; }
};
[[nodiscard]] Levelised storage_cost(const Storage& storage);

/// How many to order so that at least `needed` good ones arrive with the odds asked for.
struct Order {
  int order = 0;
  double odds = 0.0;  ///< 0…1, that this many suffice
};
[[nodiscard]] Order spares(int needed, double reject_share, double confidence);

}  // namespace money
