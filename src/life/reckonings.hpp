// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <vector>

#include "base/reckoning.hpp"

namespace life {
/// The reckonings of this folder.
[[nodiscard]] std::vector<base::Reckoning> reckonings();
}  // namespace life
