// SPDX-License-Identifier: Apache-2.0
#include "bank/kernel_loops.inc"

namespace bank::kernel {

const Functions plain{sources, inverses, advance, "plain"};

const Functions& best() {
#if defined(__x86_64__)
  static const bool has = __builtin_cpu_supports("avx2") != 0;
  return has ? wide : plain;
#else
  return plain;
#endif
}

}  // namespace bank::kernel
