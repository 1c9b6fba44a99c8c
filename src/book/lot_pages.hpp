// SPDX-License-Identifier: Apache-2.0
// The lot's pages: how its quantities are spread, the testers against each other, the queue, one
// budget in full; and the claim's sheets.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

/// What the book says of the lot behind the table of its cells.
[[nodiscard]] std::vector<Block> lot_blocks(const works::Plan& plan);

/// Labels of the cells that fall short of a limit, for the seller.
[[nodiscard]] std::vector<std::string> cells_to_claim(const works::Plan& plan);

/// One sheet for every such cell: what was ordered, how it was tested, its curve, the uncertainty,
/// the limit, the verdict. `log_hash`: SHA-256 of each cell's log, by label.
[[nodiscard]] Document compose_claim(const project::Project& project, const works::Plan& plan,
                                     const std::map<std::string, std::string>& log_hash,
                                     const std::string& printed_on);

}  // namespace book
