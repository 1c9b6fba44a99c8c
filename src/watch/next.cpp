// SPDX-License-Identifier: Apache-2.0
#include "watch/next.hpp"

#include <algorithm>
#include <cmath>

#include "watch/curve.hpp"

namespace watch {
namespace {

void add_row(Triangle& t, const Vector& row, double u) {
  for (int a = 0; a < states; ++a)
    for (int b = a; b < states; ++b)
      t[at(a, b)] += row[std::size_t(a)] * row[std::size_t(b)] / (u * u);
}

/// A slow pass from full down to 15 %: both steps of the curve, a sample a minute at a tenth of C.
Triangle slow_pass(double Q) {
  Triangle t = {};
  const double amps = 0.1 * Q, minutes = 0.83 * 600.0;
  for (int i = 0; i < 500; ++i) {
    const double s = 0.98 - 0.83 * i / 500.0, x = (0.985 - s) * Q;
    const double steep = (mean_curve_V(s + 0.01) - mean_curve_V(s - 0.01)) / 0.02 * 1e3 / Q;
    const Vector row = {-steep, 0.0, steep * x, -amps, -amps, 1.0, -amps};
    add_row(t, row, 2.5 * std::sqrt(40.0 * 500.0 / minutes));
  }
  return t;
}

}  // namespace

std::vector<NextMeasurement> next_measurements(const Estimator& estimator, int cell,
                                               const PackFacts& facts) {
  const double Q = facts.capacity_Ah, size = Q / 230.0;
  struct Candidate {
    NextMeasurement told;
    Triangle information = {};
  };
  std::vector<Candidate> all(5);
  all[0].told = {"one full charge, below 0.15 C at its end", 8.0,
                 "Stay within the charger's and the cells' limits; never below 0 °C at the cell."};
  add_row(all[0].information, {1.0, 0.0, 0.0, 0.0, 0.0, -1.0 / 20.0, 0.0}, 0.08 * size);
  all[1].told = {"one pass from full down to 15 %, at a tenth of C", 9.0,
                 "Watch the lowest cell; stop at its limit."};
  all[1].information = slow_pass(Q);
  all[2].told = {"two minutes at 0.2 C, then two at rest", 0.1,
                 "Read all cells in both; the difference is ohmic."};
  add_row(all[2].information, {0.0, 0.0, 0.0, -0.2 * Q, -0.06 * Q, 0.0, -0.2 * Q}, 1.5);
  all[3].told = {"a meter on the cell's own terminals at rest, beside the BMS's reading", 0.2,
                 "Live terminals: insulated probes, one hand, no jewellery."};
  add_row(all[3].information, {0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0}, 0.6);
  all[4].told = {"millivolts across the cell's bars and joints at 0.2 C", 0.3,
                 "Live bars under load: insulated probes, one hand, no jewellery."};
  add_row(all[4].information, {0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.2 * Q}, 0.3);
  std::vector<NextMeasurement> result;
  for (Candidate& c : all) {
    c.told.drop = estimator.expected_drop(cell, {c.information, c.told.hours});
    result.push_back(std::move(c.told));
  }
  std::stable_sort(result.begin(), result.end(), [](const auto& a, const auto& b) {
    if (std::abs(a.drop - b.drop) > 1e-3) return a.drop > b.drop;
    return a.hours < b.hours;
  });
  return result;
}

}  // namespace watch
