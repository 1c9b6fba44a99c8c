// SPDX-License-Identifier: Apache-2.0
#include "layout/layout.hpp"

#include <fmt/format.h>

namespace layout {

std::string_view name(TakeOff take_off) {
  switch (take_off) {
    case TakeOff::same_end:
      return "same-end";
    case TakeOff::star:
      return "star";
    case TakeOff::diagonal:
      break;
  }
  return "diagonal";
}

std::optional<TakeOff> take_off_named(std::string_view word) {
  for (const TakeOff t : {TakeOff::same_end, TakeOff::diagonal, TakeOff::star})
    if (name(t) == word) return t;
  return std::nullopt;
}

std::string pack_name(int pack) {
  std::string text;
  for (int rest = pack; rest >= 0; rest = rest / 26 - 1)
    text.insert(text.begin(), static_cast<char>('A' + rest % 26));
  return text;
}

std::string place_name(int pack, int group, int member, int parallel) {
  std::string text = fmt::format("{}-{:02}", pack_name(pack), group + 1);
  if (parallel > 1) text += static_cast<char>('a' + member);
  return text;
}

}  // namespace layout
