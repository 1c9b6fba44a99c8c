// SPDX-License-Identifier: Apache-2.0
#include "project/label.hpp"

#include <gtest/gtest.h>

#include "base/input_error.hpp"

namespace {

std::string why(const std::string& typed) {
  try {
    (void)project::entered_label(typed);
  } catch (const base::InputError& e) {
    return e.found();
  }
  return "";
}

TEST(Label, loses_the_blanks_around_it) {
  EXPECT_EQ(project::entered_label("  C07\t"), "C07");
  EXPECT_EQ(project::entered_label("\u00A0C 07\u3000"), "C 07");
  EXPECT_EQ(project::entered_label("Zelle Ä7 電池"), "Zelle Ä7 電池");
}

TEST(Label, is_refused_with_the_reason_where_two_could_look_alike) {
  EXPECT_NE(why("   ").find("without a label"), std::string::npos);
  EXPECT_NE(why("C0\n7").find("a line end (U+000A)"), std::string::npos);
  EXPECT_NE(why("C0\u2028"
                "7")
                .find("a line end"),
            std::string::npos);
  EXPECT_NE(why("C0\u200B"
                "7")
                .find("no eye sees (U+200B)"),
            std::string::npos);
  EXPECT_NE(why("\uFEFF"
                "C07")
                .find("no eye sees"),
            std::string::npos);
  EXPECT_NE(why("C0\u202E"
                "7")
                .find("direction of writing (U+202E)"),
            std::string::npos);
  EXPECT_NE(why(std::string("C0\0"
                            "7",
                            4))
                .find("control sign"),
            std::string::npos);
  EXPECT_NE(why("C\xE4").find("no text"), std::string::npos);
  EXPECT_NE(why("C\xED\xA0\x80").find("no text"), std::string::npos) << "half of a pair";
  EXPECT_NE(why(std::string(201, 'x')).find("201 bytes"), std::string::npos);
}

}  // namespace
