// SPDX-License-Identifier: Apache-2.0
#include "base/input_error.hpp"

#include <utility>

#include "base/encoding.hpp"

namespace base {
namespace {

/// What came from a file may hold bytes that would cut a message short, or steer the terminal that
/// shows it.
std::string shown(std::string text) {
  bool plain = true;
  for (const char c : text) plain = plain && (c == '\n' || c == '\t' || (c >= 0x20 && c != 0x7f));
  if (plain) return text;
  std::string result;
  for (const char c : to_utf8(text)) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '\n' || c == '\t' || (u >= 0x20 && u != 0x7f)) {
      result += c;
    } else {
      constexpr const char* digits = "0123456789abcdef";
      result += {'\\', 'x', digits[u >> 4], digits[u & 15]};
    }
  }
  return result;
}

}  // namespace

InputError::InputError(Place place, std::string found, std::string expected, std::string remedy)
    : place_(std::move(place)),
      found_(shown(std::move(found))),
      expected_(shown(std::move(expected))),
      remedy_(shown(std::move(remedy))) {
  place_.file = shown(std::move(place_.file));
  if (!place_.file.empty()) text_ += place_.file;
  if (place_.line > 0) text_ += (text_.empty() ? "line " : ", line ") + std::to_string(place_.line);
  if (place_.column > 0)
    text_ += (text_.empty() ? "column " : ", column ") + std::to_string(place_.column);
  if (!text_.empty()) text_ += ":\n";
  text_ += "  found:    " + found_ + "\n  expected: " + expected_ + "\n  to do:    " + remedy_;
}

InputError InputError::in_file(const std::string& file) const {
  return {{file, place_.line, place_.column}, found_, expected_, remedy_};
}

}  // namespace base
