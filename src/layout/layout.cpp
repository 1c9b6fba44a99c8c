// SPDX-License-Identifier: Apache-2.0
#include "layout/layout.hpp"

#include <algorithm>
#include <charconv>

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

std::optional<NamedPlace> place_named(std::string_view text) {
  std::size_t at = 0;
  NamedPlace place{-1};
  for (; at < text.size() && text[at] >= 'A' && text[at] <= 'Z' && at < 3; ++at)
    place.pack = (place.pack + 1) * 26 + (text[at] - 'A');
  if (at == 0) return std::nullopt;
  if (at == text.size()) return place;
  if (text[at++] != '-') return std::nullopt;
  if (!text.empty() && text.back() >= 'a' && text.back() <= 'z') text.remove_suffix(1);
  const std::string_view digits = text.substr(std::min(at, text.size()));
  int group = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), group);
  if (error != std::errc{} || end != digits.data() + digits.size() || group < 1)
    return std::nullopt;
  place.group = group - 1;
  return place;
}

}  // namespace layout
