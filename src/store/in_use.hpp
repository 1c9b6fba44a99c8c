// SPDX-License-Identifier: Apache-2.0
// One writer a project file: who writes it says so, and a second one is told who that is.
#pragma once

#include <filesystem>
#include <string>

namespace store {

class InUse {
 public:
  /// Holds FILE until the end of its scope, or of the process however that ends. `what` says to
  /// others who holds it. Throws InputError that names the holder where somebody does.
  InUse(const std::filesystem::path& file, const std::string& what);
  ~InUse();
  InUse(const InUse&) = delete;
  InUse& operator=(const InUse&) = delete;

 private:
  std::filesystem::path beside_;
  int descriptor_ = -1;
};

}  // namespace store
