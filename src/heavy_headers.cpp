// SPDX-License-Identifier: Apache-2.0
// Carries the precompiled set of heavy headers (see src/CMakeLists.txt); holds no code.
