// SPDX-License-Identifier: Apache-2.0
// The book's pages on how the bank behaves: a full cycle, the balance run, the rehearsals.
#pragma once

#include <optional>

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

/// Nothing for a bank too large to be played while a person waits.
[[nodiscard]] std::optional<Section> behaviour_pages(const project::Project& project,
                                                     const works::Plan& plan);

}  // namespace book
