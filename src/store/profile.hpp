// SPDX-License-Identifier: Apache-2.0
// A profile for the twin from a small CSV.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bank/simulate.hpp"

namespace store {

/// Columns time_s, one of power_W and current_A, and room_C where the room is to follow it (an
/// empty field: as before); `file` is for messages. Refuses with line and
/// column what leaves something open: gaps, times that do not ascend, fewer than two rows. A value
/// that is held far longer than the others is a finding.
[[nodiscard]] bank::Profile read_profile(std::string_view bytes, const std::string& file,
                                         std::vector<findings::Finding>& findings);

}  // namespace store
