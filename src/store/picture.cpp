// SPDX-License-Identifier: Apache-2.0
#include "store/picture.hpp"

#include <array>

#include <fmt/format.h>

#include "base/input_error.hpp"

namespace store {
namespace {

using base::InputError;

[[noreturn]] void refuse(std::string found) {
  throw InputError({}, std::move(found), "a whole JPEG, PNG or WebP of at most 40 million pixels",
                   "take it again, or make it smaller");
}
[[noreturn]] void refuse_damaged(std::string_view kind) {
  refuse(fmt::format("a {} that is cut short or damaged", kind));
}

std::uint32_t byte_at(std::string_view bytes, std::size_t at) {
  return static_cast<unsigned char>(bytes[at]);
}
std::uint32_t big(std::string_view bytes, std::size_t at, int n) {
  std::uint32_t value = 0;
  for (int i = 0; i < n; ++i) value = value << 8 | byte_at(bytes, at + static_cast<std::size_t>(i));
  return value;
}
std::uint32_t little(std::string_view bytes, std::size_t at, int n) {
  std::uint32_t value = 0;
  for (int i = n; i-- > 0;) value = value << 8 | byte_at(bytes, at + static_cast<std::size_t>(i));
  return value;
}

/// The polynomial of ISO 3309, as PNG's parts carry it.
std::uint32_t crc32(std::string_view bytes) {
  static const std::array<std::uint32_t, 256> table = [] {
    std::array<std::uint32_t, 256> t{};
    for (std::uint32_t n = 0; n < 256; ++n) {
      std::uint32_t c = n;
      for (int k = 0; k < 8; ++k) c = (c & 1u) != 0 ? 0xEDB88320u ^ (c >> 1) : c >> 1;
      t[n] = c;
    }
    return t;
  }();
  std::uint32_t c = 0xFFFFFFFFu;
  for (const char b : bytes) c = table[(c ^ static_cast<unsigned char>(b)) & 0xFFu] ^ (c >> 8);
  return c ^ 0xFFFFFFFFu;
}

Picture png(std::string_view bytes) {
  Picture p{"png"};
  bool data = false;
  for (std::size_t at = 8;;) {
    if (bytes.size() - at < 12) refuse_damaged("PNG");
    const std::size_t length = big(bytes, at, 4);
    if (length > bytes.size() - at - 12) refuse_damaged("PNG");
    const std::string_view type = bytes.substr(at + 4, 4);
    if (crc32(bytes.substr(at + 4, length + 4)) != big(bytes, at + 8 + length, 4))
      refuse_damaged("PNG");
    if (at == 8) {
      if (type != "IHDR" || length != 13) refuse_damaged("PNG");
      p.width = big(bytes, at + 8, 4), p.height = big(bytes, at + 12, 4);
    }
    data = data || type == "IDAT";
    if (type == "IEND") break;
    at += length + 12;
  }
  if (!data) refuse_damaged("PNG");
  return p;
}

/// Parts up to the first scan carry the size; behind it the end's mark must stand.
Picture jpeg(std::string_view bytes) {
  Picture p{"jpg"};
  for (std::size_t at = 2;;) {
    if (at + 4 > bytes.size() || byte_at(bytes, at) != 0xFF) refuse_damaged("JPEG");
    const std::uint32_t mark = byte_at(bytes, at + 1);
    if (mark == 0xFF) {  // filling
      ++at;
      continue;
    }
    if (mark == 0x01 || (mark >= 0xD0 && mark <= 0xD7)) {  // parts without a length
      at += 2;
      continue;
    }
    const std::size_t length = big(bytes, at + 2, 2);
    if (mark == 0xD9 || length < 2 || at + 2 + length > bytes.size()) refuse_damaged("JPEG");
    const bool frame = mark >= 0xC0 && mark <= 0xCF && mark != 0xC4 && mark != 0xC8 && mark != 0xCC;
    if (frame) {
      if (length < 8) refuse_damaged("JPEG");
      p.height = big(bytes, at + 5, 2), p.width = big(bytes, at + 7, 2);
    }
    if (mark == 0xDA) {
      if (p.width == 0 || bytes.find("\xFF\xD9", at + 2 + length) == std::string_view::npos)
        refuse_damaged("JPEG");
      return p;
    }
    at += 2 + length;
  }
}

Picture webp(std::string_view bytes) {
  Picture p{"webp"};
  if (bytes.size() < 30 || little(bytes, 4, 4) + std::uint64_t{8} > bytes.size())
    refuse_damaged("WebP");
  const std::string_view kind = bytes.substr(12, 4);
  const std::uint64_t length = little(bytes, 16, 4);
  if (20 + length > bytes.size()) refuse_damaged("WebP");
  if (kind == "VP8X") {
    p.width = little(bytes, 24, 3) + 1, p.height = little(bytes, 27, 3) + 1;
  } else if (kind == "VP8L" && byte_at(bytes, 20) == 0x2F) {
    const std::uint32_t bits = little(bytes, 21, 4);
    p.width = (bits & 0x3FFFu) + 1, p.height = ((bits >> 14) & 0x3FFFu) + 1;
  } else if (kind == "VP8 " && bytes.substr(23, 3) == "\x9D\x01\x2A") {
    p.width = little(bytes, 26, 2) & 0x3FFFu, p.height = little(bytes, 28, 2) & 0x3FFFu;
  } else {
    refuse_damaged("WebP");
  }
  return p;
}

}  // namespace

Picture look_at_picture(std::string_view bytes) {
  Picture p;
  if (bytes.starts_with("\x89PNG\r\n\x1A\n"))
    p = png(bytes);
  else if (bytes.starts_with("\xFF\xD8\xFF"))
    p = jpeg(bytes);
  else if (bytes.starts_with("RIFF") && bytes.size() > 12 && bytes.substr(8, 4) == "WEBP")
    p = webp(bytes);
  else
    refuse("a file that is no JPEG, PNG or WebP");
  if (p.width == 0 || p.height == 0) refuse("a picture without pixels");
  if (std::uint64_t{p.width} * p.height > most_pixels)
    refuse(fmt::format("a picture of {} x {} pixels", p.width, p.height));
  return p;
}

}  // namespace store
