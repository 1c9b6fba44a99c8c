// SPDX-License-Identifier: Apache-2.0
#include "layout/box.hpp"

#include <algorithm>

#include "base/check.hpp"

namespace layout {

std::vector<double> places_from_row_end(const Box& box) {
  std::vector<double> places(box.links.size() + 1, 0.0);
  const std::size_t per_row = places.size() / static_cast<std::size_t>(box.rows);
  for (std::size_t g = 0; g < places.size(); ++g)
    places[g] = static_cast<double>(std::min(g % per_row, per_row - 1 - g % per_row));
  return places;
}

int usual_rows(int series, int parallel) {
  return series * parallel > 8 && series % 2 == 0 ? 2 : 1;
}

Box lay_out_box(int series, int parallel, int rows, base::Metres cell_width,
                base::Metres cell_thickness) {
  CHECK(series >= 1 && parallel >= 1 && rows >= 1 && series % rows == 0);
  const int per_row = series / rows;
  const base::Metres gap =
      12.0 * base::units::mm;  // between rows: insulation sheet and room for a bar
  Box box;
  box.rows = rows;
  box.cell_thickness = cell_thickness;
  box.cell_width = cell_width;
  box.width = cell_thickness * double(per_row * parallel);
  box.depth = cell_width * double(rows) + gap * double(rows - 1);
  for (int group = 0; group < series; ++group) {
    const int row = group / per_row, along = group % per_row;
    const bool backwards = row % 2 == 1;
    const int column = backwards ? per_row - 1 - along : along;
    // The last group of a row shows its plus to the next row; from there back, groups alternate.
    // With several rows of odd length this still makes the first of a row show its minus to the row
    // before.
    const bool last_row = row == rows - 1;
    const bool positive_far =
        last_row && rows > 1 ? along % 2 == 0 : (per_row - 1 - along) % 2 == 0;
    for (int member = 0; member < parallel; ++member) {
      const int place = column * parallel + (backwards ? parallel - 1 - member : member);
      box.slots.push_back({group, member, row, cell_thickness * double(place),
                           (cell_width + gap) * double(row), positive_far});
    }
    if (group + 1 < series) box.links.push_back({group, along == per_row - 1});
  }
  return box;
}

}  // namespace layout
