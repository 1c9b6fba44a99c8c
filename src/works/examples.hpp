// SPDX-License-Identifier: Apache-2.0
// The invented projects: their text as kept under examples/, their lots and logs as our cell model
// makes them from a fixed seed. Pure: same name, same bytes.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <vector>

namespace works {

struct Example {
  std::string_view name;
  std::string_view title;
  std::string_view project_toml;
};

[[nodiscard]] const std::vector<Example>& examples();

/// The project as text: path inside its folder to bytes ("project.toml", "cells.csv",
/// "logs/C01.csv"). The name must be one of examples().
[[nodiscard]] std::map<std::string, std::string> example_files(std::string_view name);

}  // namespace works
