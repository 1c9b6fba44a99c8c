// SPDX-License-Identifier: Apache-2.0
#include "store/in_use.hpp"

#include <chrono>
#include <thread>

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "tests/support/support.hpp"

namespace {

using store::InUse;

std::string why_not(const std::filesystem::path& file, double patience_s = 0.0) {
  try {
    const InUse second(file, "the second", InUse::Stay::brief, patience_s);
  } catch (const base::InputError& e) {
    return e.found();
  }
  return "";
}

TEST(InUse, holds_the_file_by_whatever_name_it_is_reached) {
  const support::Folder folder;
  support::write(folder / "a/p", "x");
  std::filesystem::create_directory(folder / "b");
  std::filesystem::create_symlink(folder / "a/p", folder / "b/soft");
  std::filesystem::create_hard_link(folder / "a/p", folder / "b/hard");
  std::filesystem::create_directory_symlink(folder / "a", folder / "c");
  {
    const InUse first(folder / "b/soft", "the first");
    for (const char* name : {"a/p", "b/soft", "c/p"})
      EXPECT_NE(why_not(folder / name).find("the first"), std::string::npos) << name;
    const std::string hard = why_not(folder / "b/hard");
    EXPECT_NE(hard.find(std::to_string(::getpid())), std::string::npos) << hard;
    EXPECT_NE(hard.find("another name"), std::string::npos) << hard;
  }
  for (const char* name : {"a/p", "b/soft", "b/hard", "c/p"}) EXPECT_EQ(why_not(folder / name), "");
  EXPECT_FALSE(std::filesystem::exists(folder / "a/p.in-use"));
}

TEST(InUse, is_waited_for_where_it_is_held_briefly_only) {
  const support::Folder folder;
  support::write(folder / "p", "x");
  {
    const InUse page(folder / "p", "a page");
    const auto start = std::chrono::steady_clock::now();
    EXPECT_NE(why_not(folder / "p", 30.0), "");
    EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(20))
        << "a page is not waited for";
  }
  auto command = std::make_unique<InUse>(folder / "p", "a command", InUse::Stay::brief);
  EXPECT_NE(why_not(folder / "p", 0.05).find("a command"), std::string::npos);
  std::thread later([&] {
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
    command.reset();
  });
  EXPECT_EQ(why_not(folder / "p", 60.0), "");
  later.join();
}

}  // namespace
