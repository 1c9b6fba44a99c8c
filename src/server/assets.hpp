// SPDX-License-Identifier: Apache-2.0
// The page, as it was built into the program: web/dist, raw and gzipped.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

namespace server {

struct Asset {
  std::string_view path;  ///< "/index.html", "/assets/app-….js"
  std::string_view type;
  std::string_view raw, gzipped;
  /// Its name changes with its content: it may be kept for ever.
  [[nodiscard]] bool lasting() const { return path.starts_with("/assets/"); }
};
[[nodiscard]] std::span<const Asset> assets();
/// "/" is the page itself.
[[nodiscard]] const Asset* find_asset(std::string_view path);

}  // namespace server
