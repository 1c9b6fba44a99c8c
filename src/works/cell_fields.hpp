// SPDX-License-Identifier: Apache-2.0
// The fields of a cell, told once: for its table, for the page that edits it, for undo.
#pragma once

#include <array>
#include <string_view>

#include "works/project.hpp"

namespace works {

/// A reading, by the name of its column; what lies outside is refused as a slip of the hand.
struct CellNumber {
  std::string_view name;
  std::optional<double> Cell::*member;
  double min, max;
  std::string_view unit, text;
};
inline constexpr std::array<CellNumber, 8> cell_numbers = {
    CellNumber{"voltage_V", &Cell::voltage_V, -1, 6, "V", "voltage at arrival"},
    CellNumber{"ac_resistance_mOhm", &Cell::ac_resistance_mOhm, 0, 1e4, "mΩ", "1 kHz resistance"},
    CellNumber{"mass_kg", &Cell::mass_kg, 0, 1000, "kg", "mass"},
    CellNumber{"thickness_mm", &Cell::thickness_mm, 0, 10000, "mm", "thickness"},
    CellNumber{"capacity_Ah", &Cell::capacity_Ah, 0, 1e5, "Ah", "capacity measured elsewhere"},
    CellNumber{"u_Ah", &Cell::u_Ah, 0, 1e5, "Ah", "its standard uncertainty"},
    CellNumber{"resistance_mOhm", &Cell::resistance_mOhm, 0, 1e4, "mΩ", "DC resistance"},
    CellNumber{"leak_mA", &Cell::leak_mA, -1e4, 1e4, "mA", "self-discharge"}};

struct CellText {
  std::string_view name;
  std::string Cell::*member;
  std::size_t most_bytes;
};
inline constexpr std::array<CellText, 4> cell_texts = {
    CellText{"label", &Cell::label, 200}, CellText{"lot", &Cell::lot, 200},
    CellText{"made", &Cell::made, 200}, CellText{"note", &Cell::note, 20000}};

}  // namespace works
