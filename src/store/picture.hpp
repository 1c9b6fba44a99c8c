// SPDX-License-Identifier: Apache-2.0
// What a picture says of itself, without decoding it: its kind, its size, whether it is whole.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace store {

inline constexpr std::uint64_t most_pixels = 40'000'000;

struct Picture {
  std::string_view ending;  ///< "jpg", "png" or "webp"
  std::uint32_t width = 0, height = 0;
};

/// Looks at the first and last bytes and at every part's length, by [T.81], [PNG] and [RFC9649].
/// Throws InputError, without a place: no JPEG, PNG or WebP; cut short or damaged; without pixels,
/// or with more than 40 million.
[[nodiscard]] Picture look_at_picture(std::string_view bytes);

}  // namespace store
