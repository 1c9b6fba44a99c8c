// SPDX-License-Identifier: Apache-2.0
// The direct-current side as a single-line diagram.
#pragma once

#include "drawing/drawing.hpp"
#include "works/plan.hpp"

namespace book {

/// Packs on the left, the bus upright, what hangs on it on the right; one line stands for plus and
/// minus. Symbols after the ideas of IEC 60617, drawn our own way.
[[nodiscard]] drawing::Drawing draw_circuit(const project::Project& project,
                                            const works::Plan& plan, double width_mm);

}  // namespace book
