// SPDX-License-Identifier: Apache-2.0
// What the book says, from the Project and its Plan.
#pragma once

#include <string>

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

/// `printed_on` is the day as it should stand in the book; empty: none.
[[nodiscard]] Document compose(const project::Project& project, const works::Plan& plan,
                               const std::string& printed_on);

/// One full reference for its key ("JCGM100"), from docs/references.md; empty where there is none.
[[nodiscard]] std::string reference_text(const std::string& key);
/// All "[Key]" marks in a text.
[[nodiscard]] std::vector<std::string> reference_keys(const std::string& text);

}  // namespace book
