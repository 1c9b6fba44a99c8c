// SPDX-License-Identifier: Apache-2.0
// The drawings that show the real thing: a pack in plan, the bus as a single line, curves, the
// years.
#pragma once

#include "drawing/drawing.hpp"
#include "works/plan.hpp"

namespace book {

/// One pack from above, to scale, with polarity, links and labels.
[[nodiscard]] drawing::Drawing draw_pack(const project::Project& project, const works::Plan& plan,
                                         std::size_t pack, double width_mm);
/// The discharge curve of every tested cell on equal axes.
[[nodiscard]] std::vector<drawing::Drawing> draw_curves(const works::Plan& plan, double width_mm,
                                                        double height_mm);
/// How many cells show how much of one quantity.
[[nodiscard]] drawing::Drawing draw_histogram(const works::LotResult& lot, double width_mm,
                                              double height_mm);
/// One cell's discharge, with the lot's typical cell quietly behind.
[[nodiscard]] drawing::Drawing draw_one_curve(const project::Project& project,
                                              const works::Plan& plan,
                                              const works::CellResult& cell, double width_mm,
                                              double height_mm);
/// Capacity over the years as a band between two laws.
[[nodiscard]] drawing::Drawing draw_years(const project::Project& project, const works::Plan& plan,
                                          double width_mm);

}  // namespace book
