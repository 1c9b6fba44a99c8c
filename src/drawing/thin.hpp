// SPDX-License-Identifier: Apache-2.0
// A long line made short for the eye: no peak and no dip is lost.
#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace drawing {

/// Indices of at most `most` points of y, ascending: of each of equal stretches its first, lowest,
/// highest and last. Both ends are there; all of them where there are no more. Requires most >= 8.
[[nodiscard]] std::vector<std::size_t> thinned(std::span<const double> y, std::size_t most);

}  // namespace drawing
