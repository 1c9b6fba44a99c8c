// SPDX-License-Identifier: Apache-2.0
// Charge and discharge in columns of their own.
#pragma once

#include "logs/content.hpp"

namespace logs {

/// True where two columns hold no negative number and never both something: charge and discharge,
/// each in its own.
[[nodiscard]] bool take_turns(const ColumnContent& a, const ColumnContent& b);

}  // namespace logs
