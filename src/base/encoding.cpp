// SPDX-License-Identifier: Apache-2.0
#include "base/encoding.hpp"

#include <algorithm>
#include <array>

#include "base/number.hpp"

namespace base {

std::string to_utf8(std::string_view bytes) {
  bool valid = true;
  for (std::size_t i = 0; i < bytes.size() && valid;) {
    const auto c = static_cast<unsigned char>(bytes[i]);
    const std::size_t length = c < 0x80                  ? 1
                               : (c >= 0xC2 && c < 0xE0) ? 2
                               : (c >= 0xE0 && c < 0xF0) ? 3
                               : (c >= 0xF0 && c < 0xF5) ? 4
                                                         : 0;
    valid = length > 0 && i + length <= bytes.size();
    for (std::size_t k = 1; valid && k < length; ++k)
      valid = (static_cast<unsigned char>(bytes[i + k]) & 0xC0) == 0x80;
    if (valid && length > 2) {  // longer than need be, half of a pair, or beyond the last character
      const auto second = static_cast<unsigned char>(bytes[i + 1]);
      valid = !(c == 0xE0 && second < 0xA0) && !(c == 0xED && second > 0x9F) &&
              !(c == 0xF0 && second < 0x90) && !(c == 0xF4 && second > 0x8F);
    }
    i += std::max<std::size_t>(length, 1);
  }
  if (valid) return std::string(bytes);
  std::string result;
  for (const char c : bytes) {
    const auto u = static_cast<unsigned char>(c);
    if (u < 0x80) {
      result += c;
    } else {
      result += static_cast<char>(0xC0 | (u >> 6));
      result += static_cast<char>(0x80 | (u & 0x3F));
    }
  }
  return result;
}

std::string folded(std::string_view utf8) {
  // U+00C0 to U+00FF, the letters alone.
  constexpr std::string_view plain =
      "aaaaaaaceeeeiiiidnooooo ouuuuypsaaaaaaaceeeeiiiidnooooo ouuuuypy";
  std::string result;
  for (std::size_t i = 0; i < utf8.size(); ++i) {
    const auto c = static_cast<unsigned char>(utf8[i]);
    if (c == 0xC3 && i + 1 < utf8.size()) {
      const auto at = static_cast<std::size_t>(static_cast<unsigned char>(utf8[i + 1]) - 0x80);
      if (at < plain.size() && plain[at] != ' ') {
        result += plain[at];
        ++i;
        continue;
      }
    }
    result += utf8[i];
  }
  return lower(result);
}

namespace {

void append_utf8(std::string& to, unsigned code) {
  if (code < 0x80) {
    to += static_cast<char>(code);
  } else if (code < 0x800) {
    to += static_cast<char>(0xC0 | (code >> 6));
    to += static_cast<char>(0x80 | (code & 0x3F));
  } else if (code < 0x10000) {
    to += static_cast<char>(0xE0 | (code >> 12));
    to += static_cast<char>(0x80 | ((code >> 6) & 0x3F));
    to += static_cast<char>(0x80 | (code & 0x3F));
  } else {
    to += static_cast<char>(0xF0 | (code >> 18));
    to += static_cast<char>(0x80 | ((code >> 12) & 0x3F));
    to += static_cast<char>(0x80 | ((code >> 6) & 0x3F));
    to += static_cast<char>(0x80 | (code & 0x3F));
  }
}

}  // namespace

void Decoder::find_form(std::string_view& block) {
  form_ = Form::as_is;
  if (block.starts_with("\xEF\xBB\xBF")) {
    block.remove_prefix(3);
  } else if (block.starts_with("\xFF\xFE") || block.starts_with("\xFE\xFF")) {
    form_ = block.front() == '\xFF' ? Form::utf16_little : Form::utf16_big;
    block.remove_prefix(2);
  } else if (block.size() >= 8) {  // without a mark: plain text has a zero in every other byte
    std::size_t even = 0, odd = 0;
    const std::size_t look = std::min<std::size_t>(block.size(), 400) / 2 * 2;
    for (std::size_t i = 0; i < look; ++i) (i % 2 == 0 ? even : odd) += block[i] == '\0';
    if (odd * 2 > look * 9 / 10 && even == 0) form_ = Form::utf16_little;
    if (even * 2 > look * 9 / 10 && odd == 0) form_ = Form::utf16_big;
  }
  if (form_ == Form::as_is && block.find('\n') != std::string_view::npos)
    for (std::size_t i = 0; i + 1 < block.size() && form_ == Form::as_is; ++i)
      if (block[i] == '\r' && block[i + 1] != '\n') form_ = Form::mixed_ends;
}

std::string_view Decoder::decode(std::string_view block) {
  if (form_ == Form::unknown) find_form(block);
  if (form_ == Form::as_is) return block;
  text_.clear();
  if (form_ == Form::mixed_ends) {
    for (const char c : block) {
      if (c != '\n' || !after_return_) text_ += c == '\r' ? '\n' : c;
      after_return_ = c == '\r';
    }
    return text_;
  }
  constexpr unsigned unknown = 0xFFFD;  // stands for half of a pair whose other half is missing
  const auto take_unit = [&](unsigned unit) {
    const bool low = unit >= 0xDC00 && unit < 0xE000;
    if (!low && high_half_ != 0) append_utf8(text_, unknown);
    if (low && high_half_ == 0) {
      append_utf8(text_, unknown);
    } else if (unit >= 0xD800 && unit < 0xDC00) {
      high_half_ = unit;
    } else if (low) {
      append_utf8(text_, 0x10000 + ((high_half_ - 0xD800) << 10) + (unit - 0xDC00));
      high_half_ = 0;
    } else {
      append_utf8(text_, unit);
      high_half_ = 0;
    }
  };
  for (const char c : block) {
    const int byte = static_cast<unsigned char>(c);
    if (odd_byte_ < 0) {
      odd_byte_ = byte;
      continue;
    }
    take_unit(static_cast<unsigned>(form_ == Form::utf16_little ? odd_byte_ | (byte << 8)
                                                                : byte | (odd_byte_ << 8)));
    odd_byte_ = -1;
  }
  return text_;
}

std::string_view other_kind_of_file(std::string_view head) {
  struct Start {
    std::string_view bytes, kind;
  };
  static constexpr std::array<Start, 14> starts = {{
      {std::string_view("PK\x03\x04", 4), "a spreadsheet file or an archive"},
      {std::string_view("PK\x05\x06", 4), "an empty archive"},
      {"\xD0\xCF\x11\xE0", "an old spreadsheet file"},
      {"\x1F\x8B", "a compressed file"},
      {"\x28\xB5\x2F\xFD", "a compressed file"},
      {"7z\xBC\xAF\x27\x1C", "an archive"},
      {"%PDF", "a PDF page"},
      {"SQLite format 3", "a database"},
      {"\x89PNG", "a picture"},
      {"\xFF\xD8\xFF", "a picture"},
      {"GIF8", "a picture"},
      {"<", "a page or XML"},
      {"{", "JSON"},
      {"[{", "JSON"},
  }};
  std::string_view text = head;
  while (!text.empty() && (text.front() == ' ' || text.front() == '\n' || text.front() == '\r'))
    text.remove_prefix(1);
  for (const Start& s : starts)
    if (head.starts_with(s.bytes) || text.starts_with(s.bytes)) return s.kind;
  return "";
}

}  // namespace base
