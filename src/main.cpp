// SPDX-License-Identifier: Apache-2.0
#include "cli/commands.hpp"

int main(int argc, char** argv) { return cli::run(argc, argv); }
