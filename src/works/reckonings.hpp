// SPDX-License-Identifier: Apache-2.0
// The register: the reckonings of all folders, joined from their lists.
#pragma once

#include <string_view>
#include <vector>

#include "base/figure.hpp"
#include "base/reckoning.hpp"

namespace works {

/// In the order of the work: cell, bank, wiring, … Names are unique.
[[nodiscard]] const std::vector<base::Reckoning>& reckonings();
/// Nothing where no reckoning has this name.
[[nodiscard]] const base::Reckoning* find_reckoning(std::string_view name);

/// Runs a reckoning of the register on checked inputs and returns one output as a Figure that knows
/// where it came from. The name and the output must exist.
[[nodiscard]] base::Figure reckon(std::string_view name, const base::Json& inputs,
                                  std::string_view output);

}  // namespace works
