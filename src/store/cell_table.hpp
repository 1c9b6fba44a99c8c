// SPDX-License-Identifier: Apache-2.0
// cells.csv, and the table that `packhouse match` takes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "project/project.hpp"

namespace store {

/// cells.csv of a project. Unknown columns are errors: nothing is dropped in silence.
[[nodiscard]] std::vector<project::Cell> read_cells(std::string_view bytes,
                                                    const std::string& file);
[[nodiscard]] std::string write_cells(const std::vector<project::Cell>& cells);

/// The table that `packhouse match` takes: label and capacity_Ah, and what else it knows of the
/// rest.
[[nodiscard]] std::vector<project::Cell> read_candidates(std::string_view bytes,
                                                         const std::string& file);

}  // namespace store
