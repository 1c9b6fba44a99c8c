// SPDX-License-Identifier: Apache-2.0
// The command `packhouse`: its verbs, their options and what they print.
#pragma once

namespace cli {

/// Runs one command line. 0 done, 1 done with a stop finding, 2 bad input, 3 our own fault.
int run(int argc, char** argv);

}  // namespace cli
