// SPDX-License-Identifier: Apache-2.0
#include "project/label.hpp"

#include <array>
#include <utility>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"

namespace project {
namespace {

using base::InputError;

/// Blanks, the unbroken one and the wide one too.
constexpr std::array<std::string_view, 4> blanks = {" ", "\t", "\u00A0", "\u3000"};

std::string_view without_blanks(std::string_view text) {
  for (bool again = true; again;) {
    again = false;
    for (const std::string_view blank : blanks) {
      if (text.starts_with(blank)) text.remove_prefix(blank.size()), again = true;
      if (text.ends_with(blank)) text.remove_suffix(blank.size()), again = true;
    }
  }
  return text;
}

/// The sign at the start of valid text, and its length.
std::pair<unsigned, std::size_t> first_sign(std::string_view text) {
  const auto c = static_cast<unsigned char>(text.front());
  const std::size_t length = c < 0x80 ? 1 : c < 0xE0 ? 2 : c < 0xF0 ? 3 : 4;
  unsigned sign = length == 1 ? c : c & (0xFFu >> (length + 1));
  for (std::size_t i = 1; i < length; ++i)
    sign = sign << 6 | (static_cast<unsigned char>(text[i]) & 0x3Fu);
  return {sign, length};
}

std::string_view why_not(unsigned sign) {
  if (sign == '\n' || sign == '\r' || sign == 0x2028 || sign == 0x2029) return "a line end";
  if (sign < 0x20 || (sign >= 0x7F && sign < 0xA0)) return "a control sign";
  if (sign == 0x200B || sign == 0x200C || sign == 0x200D || sign == 0x2060 || sign == 0xFEFF ||
      sign == 0x00AD || sign == 0x180E)
    return "a sign that no eye sees";
  if (sign == 0x200E || sign == 0x200F || sign == 0x061C || (sign >= 0x202A && sign <= 0x202E) ||
      (sign >= 0x2066 && sign <= 0x2069))
    return "a sign that turns the direction of writing";
  return "";
}

}  // namespace

std::string entered_label(std::string_view typed) {
  const std::string_view label = without_blanks(typed);
  if (label.empty())
    throw InputError({}, "a cell without a label", "a label for every cell",
                     "give each cell a label of its own");
  if (base::to_utf8(label) != label)
    throw InputError({}, "a label that is no text", "text in UTF-8", "type it anew");
  if (label.size() > 200)
    throw InputError({}, fmt::format("a label of {} bytes", label.size()), "at most 200 bytes",
                     "shorten the label");
  for (std::size_t at = 0; at < label.size();) {
    const auto [sign, length] = first_sign(label.substr(at));
    if (const std::string_view why = why_not(sign); !why.empty())
      throw InputError({}, fmt::format("{} (U+{:04X}) in the label '{}'", why, sign, label),
                       "a label that everybody reads alike", "type the label anew, without it");
    at += length;
  }
  return std::string(label);
}

}  // namespace project
