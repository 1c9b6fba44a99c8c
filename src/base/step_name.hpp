// SPDX-License-Identifier: Apache-2.0
// The steps of the job, in its order.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>

namespace base {

enum class StepName : std::uint8_t {
  brief,
  choose,
  size,
  order,
  receive,
  test,
  match,
  wire,
  commission,
  forecast,
  watch,
  book
};

[[nodiscard]] constexpr std::string_view name(StepName step) {
  constexpr std::array<std::string_view, 12> names = {"brief",      "choose",   "size",  "order",
                                                      "receive",    "test",     "match", "wire",
                                                      "commission", "forecast", "watch", "book"};
  return names[static_cast<std::size_t>(step)];
}

}  // namespace base
