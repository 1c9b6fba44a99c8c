// SPDX-License-Identifier: Apache-2.0
// What a cell may be called: one rule for the page, a pasted list, a table.
#pragma once

#include <string>
#include <string_view>

namespace project {

/// The label without blanks around it. Throws InputError (without a place) that says why, for one
/// that is empty, longer than 200 bytes, no text, or holds what no eye sees or what turns a line
/// round: control signs, line ends, zero-width signs, signs of writing direction.
[[nodiscard]] std::string entered_label(std::string_view typed);

}  // namespace project
