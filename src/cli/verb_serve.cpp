// SPDX-License-Identifier: Apache-2.0
#include <cstdlib>

#include <fmt/format.h>
#include <unistd.h>

#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "server/assets.hpp"
#include "server/serve.hpp"

namespace cli {
namespace {

/// Hands the link to whatever opens pages here; no shell reads it.
void open_browser(const std::string& link) {
  if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr) return;
  const pid_t child = ::fork();
  if (child != 0) return;
  ::execlp("xdg-open", "xdg-open", link.c_str(), static_cast<char*>(nullptr));
  ::_exit(1);
}

}  // namespace

int serve(const ServeOptions& options) {
  if (options.parts) {
    for (const server::Asset& a : server::assets())
      fmt::print("{}  {} bytes, {} gzipped\n", left(std::string(a.path), 34), a.raw.size(),
                 a.gzipped.size());
    return 0;
  }
  if (options.port < 0 || options.port > 65535)
    throw base::InputError({}, fmt::format("--port {}", options.port), "a number from 1 to 65535",
                           "leave it out, or take for example 7313");
  server::ServeOptions serve;
  serve.file = options.file;
  serve.port = static_cast<unsigned short>(options.port);
  serve.lan = options.lan || !options.lan_address.empty();
  serve.lan_address = options.lan_address;
  serve.certificate = options.certificate;
  serve.key = options.key;
  serve.today = today;
  serve.ready = [&](const std::string& link, const std::string& lan) {
    fmt::print("{}\n", link);
    fmt::print("{}\n",
               wrap("The link lets one browser in, once. Nobody else on the network reaches it."));
    if (!lan.empty()) {
      fmt::print("\nOther devices: {}\n", lan);
      fmt::print("{}\n",
                 wrap(options.certificate.empty()
                          ? "They pair with a code that the page shows. What they send can be read "
                            "by others in the same network: it is not encrypted."
                          : "They pair with a code that the page shows."));
    }
    fmt::print("Ctrl+C ends it.\n");
    std::fflush(stdout);
    if (!options.no_open) open_browser(link);
  };
  server::serve(serve);
  return 0;
}

}  // namespace cli
