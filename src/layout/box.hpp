// SPDX-License-Identifier: Apache-2.0
// How one pack stands in its box: rows of cells face to face, polarity, links, main terminals.
#pragma once

#include <vector>

#include "base/quantity.hpp"

namespace layout {

/// One cell seen from above. x runs along the row, y across it.
struct Slot {
  int group = 0;   ///< 0 at the pack's minus
  int member = 0;  ///< within its group
  int row = 0;
  base::Metres x, y;          ///< lower left corner
  bool positive_far = false;  ///< plus at the side of larger y
};

/// A bar that joins the plus of one group to the minus of the next.
struct Link {
  int from_group = 0;
  bool across_rows = false;
};

struct Box {
  std::vector<Slot> slots;  ///< by group, then member
  std::vector<Link> links;  ///< from_group 0 … series − 2
  base::Metres width, depth;
  base::Metres cell_thickness, cell_width;
  int rows = 1;
};

/// Lays S groups of P cells in `rows` rows (each of whole groups) as a snake: along the first row,
/// back along the next, so that every link is short. Cells of a group stand side by side the same
/// way round; the next group is turned, so a link is a straight bar. Row ends face each other where
/// the snake turns. Requires series >= 1, parallel >= 1, rows >= 1, and series a multiple of rows.
[[nodiscard]] Box lay_out_box(int series, int parallel, int rows, base::Metres cell_width,
                              base::Metres cell_thickness);

/// How many groups stand between each group and the nearer end of its row, from the pack's minus:
/// the more, the warmer it gets.
[[nodiscard]] std::vector<double> places_from_row_end(const Box& box);

/// Two rows where that gives whole groups and more than eight cells, else one.
[[nodiscard]] int usual_rows(int series, int parallel);

}  // namespace layout
