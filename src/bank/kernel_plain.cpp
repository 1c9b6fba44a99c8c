// SPDX-License-Identifier: Apache-2.0
#include "bank/kernel_loops.inc"

namespace bank::kernel {

const Functions plain{prepare, advance, warm, refresh, "plain"};

const Functions& best() {
#if defined(__x86_64__)
  static const Functions& has = __builtin_cpu_supports("x86-64-v4") != 0   ? widest
                                : __builtin_cpu_supports("x86-64-v3") != 0 ? wide
                                                                           : plain;
  return has;
#else
  return plain;
#endif
}

}  // namespace bank::kernel
