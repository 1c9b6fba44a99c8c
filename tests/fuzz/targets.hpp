// SPDX-License-Identifier: Apache-2.0
// Everything that reads what somebody else wrote, each as a function of bytes. Bad input is an
// InputError and is caught here; whatever else is thrown, and every fault of memory, is a find.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace fuzz {

struct Target {
  std::string_view name;
  void (*run)(std::string_view bytes);
};
[[nodiscard]] const std::vector<Target>& targets();

}  // namespace fuzz
