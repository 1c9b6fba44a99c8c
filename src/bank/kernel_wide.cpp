// SPDX-License-Identifier: Apache-2.0
// The same loops, compiled for 256-bit vectors (src/CMakeLists.txt).
#include "bank/kernel_loops.inc"

namespace bank::kernel {

const Functions wide{prepare, advance, warm, refresh, "wide"};

}  // namespace bank::kernel
