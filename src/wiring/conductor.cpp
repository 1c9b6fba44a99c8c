// SPDX-License-Identifier: Apache-2.0
#include "wiring/conductor.hpp"

#include <array>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "base/check.hpp"
#include "base/interpolation.hpp"
#include "base/number.hpp"

namespace wiring {
namespace {

namespace units = base::units;

// [IEC60228] maximum DC resistance at 20 °C, mΩ/m: tables 2 (class 2) and 3 (class 5), plain
// conductors.
constexpr std::array<double, 18> section = {0.5, 0.75, 1,  1.5, 2.5, 4,   6,   10,  16,
                                            25,  35,   50, 70,  95,  120, 150, 185, 240};
constexpr std::array<double, 18> copper_class_2 = {36.0,  24.5,  18.1,  12.1,  7.41,   4.61,
                                                   3.08,  1.83,  1.15,  0.727, 0.524,  0.387,
                                                   0.268, 0.193, 0.153, 0.124, 0.0991, 0.0754};
constexpr std::array<double, 18> copper_class_5 = {39.0,  26.0,  19.5,  13.3,  7.98,  4.95,
                                                   3.30,  1.91,  1.21,  0.780, 0.554, 0.386,
                                                   0.272, 0.206, 0.161, 0.129, 0.106, 0.0801};
constexpr std::size_t first_aluminium = 7;  // 10 mm²
constexpr std::array<double, 11> aluminium_class_2 = {3.08,  1.91,  1.20,  0.868, 0.641, 0.443,
                                                      0.320, 0.253, 0.206, 0.164, 0.125};

// [IEC60364-5-52] annex B, copper, two loaded conductors, air at 30 °C, A.
constexpr std::array<double, 15> c_section = {1.5, 2.5, 4,  6,   10,  16,  25, 35,
                                              50,  70,  95, 120, 150, 185, 240};
constexpr std::array<double, 15> pvc_c = {19.5, 27,  36,  46,  63,  85,  112, 138,
                                          168,  213, 258, 299, 344, 392, 461};
constexpr std::array<double, 15> xlpe_c = {24,  33,  45,  58,  80,  107, 138, 171,
                                           209, 269, 328, 382, 441, 506, 599};
constexpr std::array<double, 9> f_section = {25, 35, 50, 70, 95, 120, 150, 185, 240};
constexpr std::array<double, 9> pvc_f = {131, 162, 196, 251, 304, 352, 406, 463, 546};
constexpr std::array<double, 9> xlpe_f = {161, 200, 242, 310, 377, 437, 504, 575, 679};

constexpr std::array<double, 11> ambient_C = {10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60};
constexpr std::array<double, 11> pvc_ambient = {1.22, 1.17, 1.12, 1.06, 1,   0.94,
                                                0.87, 0.79, 0.71, 0.61, 0.50};
constexpr std::array<double, 11> xlpe_ambient = {1.15, 1.12, 1.08, 1.04, 1,   0.96,
                                                 0.91, 0.87, 0.82, 0.76, 0.71};

constexpr std::array<double, 12> bunched_circuits = {1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 16, 20};
constexpr std::array<double, 12> bunched = {1.00, 0.80, 0.70, 0.65, 0.60, 0.57,
                                            0.54, 0.52, 0.50, 0.45, 0.41, 0.38};
constexpr std::array<double, 9> wall = {1.00, 0.85, 0.79, 0.75, 0.73, 0.72, 0.72, 0.71, 0.70};
constexpr std::array<double, 9> tray = {1.00, 0.88, 0.82, 0.77, 0.75,
                                        0.73, 0.73, 0.72, 0.72};  // from memory
constexpr std::array<double, 9> ladder = {1.00, 0.87, 0.82, 0.80, 0.80,
                                          0.79, 0.79, 0.78, 0.78};  // from memory

template <std::size_t N>
std::optional<double> exactly(const std::array<double, N>& xs, std::span<const double> ys,
                              double x) {
  for (std::size_t i = 0; i < N; ++i)
    if (std::abs(xs[i] - x) < 1e-9) return ys[i];
  return std::nullopt;
}

std::optional<double> grouping_factor(Grouping grouping, int circuits) {
  if (circuits < 1) return std::nullopt;
  if (grouping == Grouping::bunched) {  // between the table's counts the next larger one holds
    for (std::size_t i = 0; i < bunched_circuits.size(); ++i)
      if (circuits <= bunched_circuits[i]) return bunched[i];
    return std::nullopt;
  }
  if (circuits > 9) return std::nullopt;
  const auto& row = grouping == Grouping::wall ? wall : grouping == Grouping::tray ? tray : ladder;
  return row[static_cast<std::size_t>(circuits - 1)];
}

/// What the two common conductor metals need in these formulas.
struct Metal {
  double resistivity_Ohm_mm2_m;  // at 20 °C
  double alpha_per_K;            // at 20 °C
  double beta_K;                 // reciprocal of alpha at 0 °C
  double heat_J_K_mm3;           // volumetric heat capacity at 20 °C
};
constexpr Metal copper = {0.017241, 0.00393, 234.5, 3.45e-3};    // [IEC60028], [IEC60364-5-54]
constexpr Metal aluminium = {0.028264, 0.00403, 228.0, 2.5e-3};  // [IEC60889], [IEC60364-5-54]

const Metal& metal(Material material) { return material == Material::copper ? copper : aluminium; }

}  // namespace

std::span<const double> sections_mm2() { return section; }

std::span<const double> ampacity_sections_mm2(Method method) {
  if (method == Method::c) return c_section;
  return f_section;
}

std::optional<base::OhmsPerMetre> table_resistance(Material material, int conductor_class,
                                                   double area_mm2) {
  CHECK(conductor_class == 2 || conductor_class == 5);
  std::optional<double> value;
  if (material == Material::copper) {
    value = exactly(section, conductor_class == 2 ? copper_class_2 : copper_class_5, area_mm2);
  } else if (conductor_class == 2) {
    for (std::size_t i = first_aluminium; i < section.size(); ++i)
      if (std::abs(section[i] - area_mm2) < 1e-9) value = aluminium_class_2[i - first_aluminium];
  }
  if (!value) return std::nullopt;
  return *value * units::mOhm_per_m;
}

std::optional<base::SquareMetres> gauge_area(std::string_view awg) {
  double n = 0.0;
  if (awg == "00" || awg == "000" || awg == "0000") {
    n = 1.0 - double(awg.size());
  } else if (awg == "1/0" || awg == "2/0" || awg == "3/0" || awg == "4/0") {
    n = 1.0 - (awg[0] - '0');
  } else {
    const auto number = base::parse_number(awg);
    if (!number || *number != std::floor(*number) || *number < 0.0 || *number > 40.0)
      return std::nullopt;
    n = *number;
  }
  const base::Metres diameter = 0.127 * std::pow(92.0, (36.0 - n) / 39.0) * units::mm;
  return diameter * diameter * (std::numbers::pi / 4.0);
}

base::OhmsPerMetre solid_resistance(Material material, base::SquareMetres area) {
  return base::OhmsPerMetre::from_si(metal(material).resistivity_Ohm_mm2_m / area.in(units::mm2));
}

base::OhmsPerMetre at_temperature(Material material, base::OhmsPerMetre at_20C,
                                  base::Temperature temperature) {
  return at_20C * (1.0 + metal(material).alpha_per_K * (temperature.in_C() - 20.0));
}

Drop pair_drop(base::OhmsPerMetre resistance, base::Metres one_way, base::Amps current) {
  const base::Volts drop = 2.0 * (resistance * one_way * current);
  return {drop, drop * current};
}

std::optional<Ampacity> ampacity(Insulation insulation, Method method, double area_mm2,
                                 base::Temperature ambient, int circuits, Grouping grouping) {
  const bool pvc = insulation == Insulation::pvc;
  const auto table = method == Method::c ? exactly(c_section, pvc ? pvc_c : xlpe_c, area_mm2)
                                         : exactly(f_section, pvc ? pvc_f : xlpe_f, area_mm2);
  const auto neighbours = grouping_factor(grouping, circuits);
  const double air_C = ambient.in_C();
  const double slack = 1e-9;
  if (!table || !neighbours || air_C < ambient_C.front() - slack ||
      air_C > ambient_C.back() + slack)
    return std::nullopt;
  const double air = base::interpolate(ambient_C, pvc ? pvc_ambient : xlpe_ambient, air_C);
  return Ampacity{*table * air * *neighbours * units::A, *table * units::A, air, *neighbours};
}

double k_factor(Material material, base::Temperature initial, base::Temperature final) {
  const Metal& m = metal(material);
  const double ratio = (m.beta_K + final.in_C()) / (m.beta_K + initial.in_C());
  CHECK(ratio >= 1.0);
  return std::sqrt(m.heat_J_K_mm3 * (m.beta_K + 20.0) / (m.resistivity_Ohm_mm2_m * 1e-3) *
                   std::log(ratio));
}

base::SquareMetres adiabatic_area(base::Amps fault, base::Seconds time, double k) {
  CHECK(k > 0.0 && time.si() >= 0.0);
  return fault.in(units::A)*std::sqrt(time.in(units::s)) / k * units::mm2;
}

}  // namespace wiring
