// SPDX-License-Identifier: Apache-2.0
// Conductors: resistance, drop, what they may carry, what they survive.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "base/quantity.hpp"

namespace wiring {

enum class Material { copper, aluminium };
enum class Insulation { pvc, xlpe };  ///< 70 °C and 90 °C conductors
enum class Method { c, f };           ///< on a surface; two touching single cores in free air
enum class Grouping { bunched, wall, tray, ladder };

/// Standard sections of the resistance table, mm².
[[nodiscard]] std::span<const double> sections_mm2();
/// Sections for which the ampacity table has a value with this method and insulation, mm².
[[nodiscard]] std::span<const double> ampacity_sections_mm2(Method method);

/// Largest DC resistance at 20 °C that the standard allows a stranded (2) or flexible (5)
/// conductor. [IEC60228] tables 2 and 3. Nothing where the section, or class 5 aluminium, is not in
/// the table.
[[nodiscard]] std::optional<base::OhmsPerMetre> table_resistance(Material material,
                                                                 int conductor_class,
                                                                 double area_mm2);
/// Section of a wire gauge, "4/0" (or "0000") … "36". [ASTM-B258] Nothing where the text is no
/// gauge.
[[nodiscard]] std::optional<base::SquareMetres> gauge_area(std::string_view awg);
/// Resistance at 20 °C of a solid conductor of this section. [IEC60028] [IEC60889]
[[nodiscard]] base::OhmsPerMetre solid_resistance(Material material, base::SquareMetres area);
/// A resistance brought from 20 °C to another temperature: R20 (1 + α (T − 20 °C)).
[[nodiscard]] base::OhmsPerMetre at_temperature(Material material, base::OhmsPerMetre at_20C,
                                                base::Temperature temperature);

/// Drop along a DC pair: out and back. Length is one way.
struct Drop {
  base::Volts drop;
  base::Watts loss;
};
[[nodiscard]] Drop pair_drop(base::OhmsPerMetre resistance, base::Metres one_way,
                             base::Amps current);

/// Current that a copper pair may carry for ever, with the factors for warm air and for neighbours.
/// [IEC60364-5-52] tables B.52.2, B.52.3, B.52.10, B.52.12, B.52.14, B.52.17. Nothing outside the
/// tables.
struct Ampacity {
  base::Amps current, table_current;
  double ambient_factor = 1.0, grouping_factor = 1.0;
};
[[nodiscard]] std::optional<Ampacity> ampacity(Insulation insulation, Method method,
                                               double area_mm2, base::Temperature ambient,
                                               int circuits, Grouping grouping);

/// k of the adiabatic equation, A·√s/mm². [IEC60364-5-54] annex A
[[nodiscard]] double k_factor(Material material, base::Temperature initial,
                              base::Temperature final);
/// Section that survives a fault current for a time (at most 5 s): S = I √t / k. [IEC60364-4-43]
/// 434.5.2
[[nodiscard]] base::SquareMetres adiabatic_area(base::Amps fault, base::Seconds time, double k);

}  // namespace wiring
