// SPDX-License-Identifier: Apache-2.0
#include "bench/reference.hpp"

#include <cmath>
#include <numbers>

#include "cell/chemistry.hpp"
#include "cell/model.hpp"

namespace bench {
namespace {

namespace units = base::units;

constexpr double foot_V = 3.19;           // above it the curve is flat and says nothing
constexpr double intrinsic_per_K = 4e-4;  // capacity's own change with temperature, low rate
constexpr double whole_per_K = 1e-3;      // with what resistance does near the cut-off
constexpr double model_share = 1.0 / 3.0;

/// State of charge on the foot of the curve at this rested voltage; below the table: zero.
double charge_at(double rested_V) {
  double low = 0.0, high = 0.15;
  for (int k = 0; k < 60; ++k) {
    const double middle = 0.5 * (low + high);
    (cell::open_circuit_voltage(middle).in(units::V) < rested_V ? low : high) = middle;
  }
  return low;
}

}  // namespace

std::optional<ReferenceCapacity> to_reference(const MeasuredCapacity& m,
                                              const ReferenceConditions& conditions) {
  if (m.capacity_Ah <= 0.0) return std::nullopt;
  const auto capacity = m.capacity_Ah * units::Ah;
  const cell::Model model = m.resistance_mOhm
                                ? cell::Model::scaled(capacity, *m.resistance_mOhm * units::mOhm)
                                : cell::Model::scaled(capacity);
  const double at_25_Ohm = (model.r0 + model.r1 + model.r2).in(units::Ohm);
  const double was_C = m.temperature_C.value_or(25.0);
  const auto long_Ohm = [&](double celsius) {
    return at_25_Ohm * cell::resistance_factor(base::Temperature::from_C(celsius));
  };
  const double rested_V = m.end_V + m.current_A * long_Ohm(was_C);
  const double reference_V = conditions.cut_off_V + conditions.rate_per_h * m.capacity_Ah *
                                                        long_Ohm(conditions.temperature_C);
  if (rested_V > foot_V || reference_V > foot_V) return std::nullopt;
  ReferenceCapacity r;
  const double whole_Ah = m.capacity_Ah / (1.0 - charge_at(rested_V));
  r.from_end_Ah = whole_Ah * (charge_at(rested_V) - charge_at(reference_V));
  r.from_temperature_Ah = m.capacity_Ah * intrinsic_per_K * (conditions.temperature_C - was_C);
  // An unknown temperature acts by all of its ways, resistance too; what is corrected may be off by
  // as much as is added.
  const double u_temperature =
      m.capacity_Ah * std::hypot(whole_per_K * m.temperature_halfwidth_K / std::numbers::sqrt3,
                                 intrinsic_per_K * (conditions.temperature_C - was_C));
  // Half-width of the resistance that the end stands on: a third of it.
  const double u_end = model_share * std::abs(r.from_end_Ah) + 1e-4 * m.capacity_Ah;
  r.capacity_Ah = {m.capacity_Ah + r.from_end_Ah + r.from_temperature_Ah,
                   std::sqrt(m.u_Ah * m.u_Ah + u_end * u_end + u_temperature * u_temperature)};
  return r;
}

}  // namespace bench
