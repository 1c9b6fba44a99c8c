// SPDX-License-Identifier: Apache-2.0
// The same loops, compiled for 512-bit vectors (src/CMakeLists.txt).
#include "bank/kernel_loops.inc"

namespace bank::kernel {

const Functions widest{prepare, advance, warm, refresh, "widest"};

}  // namespace bank::kernel
