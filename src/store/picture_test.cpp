// SPDX-License-Identifier: Apache-2.0
#include "store/picture.hpp"

#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

using namespace std::string_literals;

std::string little32(std::uint32_t x) {
  return {char(x & 255), char(x >> 8 & 255), char(x >> 16 & 255), char(x >> 24)};
}

// A PNG of one grey pixel; its parts' sums are those that zlib's crc32 gives.
const std::string dot =
    "\x89PNG\r\n\x1A\n\0\0\0\x0DIHDR\0\0\0\1\0\0\0\1\x08\0\0\0\0\x3A\x7E\x9B\x55\0\0\0\x0AIDAT\x78\xDA\x63\x60\0\0\0\2\0\1\xE5\x27\xDE\xFC\0\0\0\0IEND\xAE\x42\x60\x82"s;

std::string a_jpeg(unsigned width, unsigned height) {
  return "\xFF\xD8\xFF\xE0\0\x04zz\xFF\xC0\0\x0B\x08"s + char(height >> 8) + char(height & 255) +
         char(width >> 8) + char(width & 255) + "\1\1\x11\0\xFF\xDA\0\x08\1\1\0\0\x3F\0zz\xFF\xD9"s;
}

std::string a_webp(unsigned width, unsigned height) {
  const std::string body = "WEBPVP8L"s + little32(5) + "\x2F"s +
                           little32((width - 1) | (height - 1) << 14) + "\0"s + "        "s;
  return "RIFF"s + little32(static_cast<std::uint32_t>(body.size())) + body;
}

std::string refused(const std::string& bytes) {
  try {
    (void)store::look_at_picture(bytes);
  } catch (const base::InputError& e) {
    return e.found();
  }
  return "";
}

TEST(Picture, says_its_kind_and_size) {
  EXPECT_EQ(store::look_at_picture(dot).ending, "png");
  EXPECT_EQ(store::look_at_picture(dot).width, 1u);
  const store::Picture j = store::look_at_picture(a_jpeg(640, 480));
  EXPECT_EQ(j.ending, "jpg");
  EXPECT_EQ(j.width, 640u);
  EXPECT_EQ(j.height, 480u);
  const store::Picture w = store::look_at_picture(a_webp(300, 200));
  EXPECT_EQ(w.ending, "webp");
  EXPECT_EQ(w.width, 300u);
  EXPECT_EQ(w.height, 200u);
}

TEST(Picture, cut_short_anywhere_is_refused) {
  for (const std::string& whole : {dot, a_jpeg(640, 480)})
    for (std::size_t n = 0; n < whole.size(); ++n)
      EXPECT_NE(refused(whole.substr(0, n)), "") << n << " of " << whole.size();
  EXPECT_NE(refused("\xFF\xD8\xFF\xE0"), "") << "four bytes";
  for (std::size_t at = 8; at < dot.size() - 12; ++at) {
    std::string hurt = dot;
    hurt[at] = char(hurt[at] ^ 1);
    EXPECT_NE(refused(hurt), "") << "a byte turned at " << at;
  }
}

TEST(Picture, of_more_pixels_than_a_page_can_show_is_refused_before_anybody_decodes_it) {
  EXPECT_NE(refused(a_jpeg(60000, 60000)).find("60000 x 60000"), std::string::npos);
  EXPECT_EQ(refused(a_jpeg(8000, 5000)), "");
  EXPECT_NE(refused(a_jpeg(8000, 5001)), "");
  EXPECT_NE(refused(a_jpeg(0, 480)), "");
  EXPECT_NE(refused(a_webp(16000, 16000)), "");
}

}  // namespace
