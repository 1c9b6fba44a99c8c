// SPDX-License-Identifier: Apache-2.0
// Bytes to text: byte-order marks, UTF-16, legacy code pages, and what is no text at all.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace base {

/// Text as UTF-8: bytes that are not valid UTF-8 are taken for Latin-1.
[[nodiscard]] std::string to_utf8(std::string_view bytes);

/// "Décharge" to "decharge": lower case without accents, for comparing words. ASCII and Latin-1
/// letters; the rest untouched.
[[nodiscard]] std::string folded(std::string_view utf8);

/// Turns blocks of a file's bytes into text without a byte-order mark; UTF-16 becomes UTF-8; where
/// the first block ends lines with '\r' and with '\n', all become '\n'; everything else is handed
/// through as it is. The first block must hold at least 8 bytes, or all.
class Decoder {
 public:
  /// The text of this block; the view lives until the next call.
  [[nodiscard]] std::string_view decode(std::string_view block);
  /// True where half a character is left over: a byte is missing, or one too many.
  [[nodiscard]] bool incomplete() const { return odd_byte_ >= 0 || high_half_ != 0; }

 private:
  enum class Form : std::uint8_t { unknown, as_is, mixed_ends, utf16_little, utf16_big };
  void find_form(std::string_view& block);
  Form form_ = Form::unknown;
  std::string text_;
  int odd_byte_ = -1;  ///< half of a unit whose other half comes with the next block
  bool after_return_ = false;
  unsigned high_half_ = 0;  ///< of a surrogate pair
};

/// What kind of file these first bytes begin, where it is none that holds a table as text ("a
/// spreadsheet file or an archive"); empty where it may be text.
[[nodiscard]] std::string_view other_kind_of_file(std::string_view head);

}  // namespace base
