// SPDX-License-Identifier: Apache-2.0
// The catalogue of settings as a page for people (docs/howto/project.md).
#pragma once

#include <string>

namespace project {

/// Markdown: a heading and a table for each table of settings.
[[nodiscard]] std::string settings_page();

}  // namespace project
