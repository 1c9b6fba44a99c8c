// SPDX-License-Identifier: Apache-2.0
// The web server: sockets, streams of events, the page.
#pragma once

#include <filesystem>
#include <functional>
#include <string>

namespace server {

struct ServeOptions {
  std::filesystem::path file;
  unsigned short port = 0;                 ///< 0: the usual one, or any other where that is taken
  bool lan = false;                        ///< other devices in the house may pair
  std::string lan_address;                 ///< of this computer, which they reach; empty: found
  std::filesystem::path certificate, key;  ///< PEM; both or none
  std::function<std::string()> today;
  /// Called once all is listening, with the link that lets a browser in.
  std::function<void(const std::string& link, const std::string& lan)> ready;
};

/// Serves until a signal ends it. Throws InputError: a project that cannot be opened or is in use,
/// a port or an address that cannot be had, a certificate that cannot be used.
void serve(const ServeOptions& options);

}  // namespace server
