// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <vector>

#include "base/reckoning.hpp"

namespace wiring {
/// The reckonings of this folder.
[[nodiscard]] std::vector<base::Reckoning> reckonings();
}  // namespace wiring
