// SPDX-License-Identifier: Apache-2.0
#include <exception>

#include <unistd.h>

#include "cli/commands.hpp"

int main(int argc, char** argv) {
  try {
    return cli::run(argc, argv);
  } catch (const std::exception&) {  // not even memory for the words that say so
    constexpr char text[] =
        "packhouse: memory\n  found:    no more of it\n  expected: room for the work\n"
        "  to do:    close other programs, then do it again; nothing was changed\n";
    (void)!::write(STDERR_FILENO, text, sizeof text - 1);
    return 2;
  }
}
