// SPDX-License-Identifier: Apache-2.0
// The book's pages on what carries the current, and the lists to work through.
#pragma once

#include "book/document.hpp"
#include "works/plan.hpp"

namespace book {

[[nodiscard]] Section wiring_pages(const project::Project& project, const works::Plan& plan);
/// Links and lugs with what they should show at a known current, to fill in by hand or as filled
/// in; the sense plug's pins likewise.
[[nodiscard]] Section joint_pages(const project::Project& project, const works::Plan& plan);
[[nodiscard]] Section checklist_pages(const project::Project& project, const works::Plan& plan);

}  // namespace book
