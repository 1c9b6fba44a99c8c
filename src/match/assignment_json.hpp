// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <span>
#include <string>

#include "base/json.hpp"
#include "match/match.hpp"

namespace match {

/// The object of the contract: packs with their groups and cells, spares, bound, gap, proof,
/// method. `labels` are those of the candidates that the assignment's indices mean.
[[nodiscard]] base::Json to_json(const Assignment& assignment, std::span<const std::string> labels);

}  // namespace match
