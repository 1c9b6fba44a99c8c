// SPDX-License-Identifier: Apache-2.0
// The entry that libFuzzer calls; FUZZ_TARGET in the environment says which reader is tried.
#include <cstdint>
#include <cstdio>
#include <cstdlib>

#include "tests/fuzz/targets.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const fuzz::Target* const target = [] {
    const char* name = std::getenv("FUZZ_TARGET");
    for (const fuzz::Target& t : fuzz::targets())
      if (name != nullptr && t.name == name) return &t;
    std::fputs("FUZZ_TARGET must be the name of a target (tests/fuzz/targets.cpp)\n", stderr);
    std::exit(2);
  }();
  target->run({reinterpret_cast<const char*>(data), size});
  return 0;
}
