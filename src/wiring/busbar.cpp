// SPDX-License-Identifier: Apache-2.0
#include "wiring/busbar.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "base/interpolation.hpp"
#include "wiring/conductor.hpp"

namespace wiring {
namespace {

namespace units = base::units;

constexpr std::array<Bar, 16> table = {{{12, 2, 108, 123},
                                        {15, 2, 128, 148},
                                        {15, 3, 162, 187},
                                        {20, 3, 204, 237},
                                        {20, 5, 274, 319},
                                        {20, 10, 427, 497},
                                        {25, 3, 245, 287},
                                        {25, 5, 327, 384},
                                        {30, 3, 285, 337},
                                        {30, 5, 379, 447},
                                        {30, 10, 573, 676},
                                        {40, 3, 366, 435},
                                        {40, 5, 482, 573},
                                        {40, 10, 715, 850},
                                        {50, 5, 583, 697},
                                        {50, 10, 852, 1020}}};

constexpr std::array<double, 7> bar_C = {50, 60, 65, 70, 80, 85, 90};
constexpr std::array<double, 7> air_C = {20, 25, 30, 35, 40, 45, 50};
constexpr std::array<std::array<double, 7>, 7> k2 = {{{1.00, 1.20, 1.25, 1.35, 1.48, 1.55, 1.62},
                                                      {0.95, 1.10, 1.20, 1.25, 1.40, 1.45, 1.55},
                                                      {0.80, 1.00, 1.10, 1.15, 1.32, 1.40, 1.45},
                                                      {0.70, 0.90, 1.00, 1.10, 1.25, 1.30, 1.40},
                                                      {0.55, 0.80, 0.90, 1.00, 1.15, 1.25, 1.30},
                                                      {0.40, 0.65, 0.75, 0.90, 1.05, 1.15, 1.25},
                                                      {0.30, 0.50, 0.65, 0.80, 1.00, 1.05, 1.15}}};

}  // namespace

std::span<const Bar> bars() { return table; }

std::optional<base::Amps> bar_ampacity(double width_mm, double thickness_mm, base::Temperature bar,
                                       base::Temperature air) {
  const auto found = std::find_if(table.begin(), table.end(), [&](const Bar& b) {
    return std::abs(b.width_mm - width_mm) < 1e-9 && std::abs(b.thickness_mm - thickness_mm) < 1e-9;
  });
  const double slack = 1e-9, b = bar.in_C(), a = air.in_C();
  if (found == table.end() || b < bar_C.front() - slack || b > bar_C.back() + slack ||
      a < air_C.front() - slack || a > air_C.back() + slack)
    return std::nullopt;
  std::array<double, 7> at_bar{};
  for (std::size_t i = 0; i < air_C.size(); ++i) at_bar[i] = base::interpolate(bar_C, k2[i], b);
  return found->bare_A * base::interpolate(air_C, at_bar, a) * units::A;
}

base::OhmsPerMetre bar_resistance(double width_mm, double thickness_mm,
                                  base::Temperature temperature) {
  return at_temperature(Material::copper,
                        solid_resistance(Material::copper, width_mm * thickness_mm * units::mm2),
                        temperature);
}

}  // namespace wiring
