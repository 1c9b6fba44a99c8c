// SPDX-License-Identifier: Apache-2.0
// What planning one project after another may take from the time before: a page plans at every
// keystroke, and most of a plan is logs that have not changed. Same answers with and without it.
#pragma once

#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "works/plan.hpp"

namespace works {

struct Recall {
  /// Of a log: what was read from it, where neither it nor what decides its reading has changed.
  struct ReadLog {
    std::size_t bytes = 0;
    std::uint64_t hash = 0;
    std::string settings;
    CellResult cell;
    std::vector<findings::Finding> findings;
  };
  std::map<std::string, ReadLog> logs;  ///< by the file's name
  /// The search for places, by all that goes into it.
  std::string search_key;
  std::optional<match::Assignment> search;
};

/// As plan(project).
[[nodiscard]] Plan plan(const Project& project, Recall& recall);

}  // namespace works
