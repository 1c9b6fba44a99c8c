// SPDX-License-Identifier: Apache-2.0
// Words that a tester writes for what it is doing: charge, discharge, rest.
#pragma once

#include <string_view>

#include "logs/raw_rows.hpp"

namespace logs {

/// What a step's or a state's name says, in English, German, Dutch, French, Spanish and Italian and
/// in the trade's abbreviations; `unknown` where it says neither. A bare "CC" or "CV" says neither:
/// both are done either way.
[[nodiscard]] Flow flow_of(std::string_view text);

}  // namespace logs
