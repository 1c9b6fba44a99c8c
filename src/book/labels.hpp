// SPDX-License-Identifier: Apache-2.0
// Labels to stick on the cells: label, place, capacity with its conditions, polarity, and a QR code
// that says the same.
#pragma once

#include <string>

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

/// Sheets of labels for every placed cell, pack by pack in series order, then spares.
[[nodiscard]] Document compose_labels(const project::Project& project, const works::Plan& plan,
                                      const std::string& printed_on);

/// What one cell's code says, as text: label, place, capacity, conditions. Codes are read by any
/// camera: nothing secret goes in.
[[nodiscard]] std::string label_code(const works::CellResult& cell);

/// A QR code (ISO/IEC 18004, error correction M) as squares of `side_mm` in all, quiet zone
/// included; dark on light.
[[nodiscard]] drawing::Drawing draw_code(const std::string& text, double side_mm);

}  // namespace book
