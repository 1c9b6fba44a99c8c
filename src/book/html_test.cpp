// SPDX-License-Identifier: Apache-2.0
#include "book/html.hpp"

#include <gtest/gtest.h>

#include "book/content.hpp"

namespace {

TEST(Html, writes_text_as_text) {
  book::Document d;
  d.title = "<script>alert('x')</script>";
  d.sections = {{"A & B", {book::Paragraph{"\"quoted\" <b>"}}, true}};
  const std::string html = book::to_html(d);
  EXPECT_EQ(html.find("<script"), std::string::npos);
  EXPECT_NE(html.find("A &amp; B"), std::string::npos);
  EXPECT_NE(html.find("&quot;quoted&quot; &lt;b&gt;"), std::string::npos);
}

TEST(ReferenceKeys, are_those_in_brackets_that_look_like_keys) {
  EXPECT_EQ(book::reference_keys("see [JCGM100] 4.3 and [NIST-EDA], not [bus] or [1]"),
            (std::vector<std::string>{"JCGM100", "NIST-EDA"}));
  EXPECT_EQ(book::reference_text("JCGM100").substr(0, 18), "JCGM 100:2008, Eva");
  EXPECT_EQ(book::reference_text("Nobody1999"), "");
}

}  // namespace
