// SPDX-License-Identifier: Apache-2.0
// The book's pages on the house: the year with and without the bank, how large, what it is worth.
#pragma once

#include <optional>

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

/// Nothing where the project does not tell of the house.
[[nodiscard]] std::optional<Section> house_pages(const project::Project& project,
                                                 const works::Plan& plan);

}  // namespace book
