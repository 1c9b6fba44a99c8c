// SPDX-License-Identifier: Apache-2.0
#include "store/files.hpp"

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "tests/support/support.hpp"

namespace {

namespace fs = std::filesystem;
using base::InputError;
using store::Existing;

std::vector<std::string> names_in(const fs::path& folder) {
  std::vector<std::string> names;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    names.push_back(fs::relative(entry.path(), folder).string());
  std::sort(names.begin(), names.end());
  return names;
}

TEST(WriteFile, takes_no_other_files_place_unless_it_is_told_to) {
  const support::Folder folder;
  support::write(folder / "a", "one");
  EXPECT_THROW(store::write_file(folder / "a", "two"), InputError);
  EXPECT_EQ(support::read(folder / "a"), "one");
  EXPECT_NO_THROW(store::write_file(folder / "a", "one")) << "these very bytes are there";
  store::write_file(folder / "a", "two", Existing::replace);
  EXPECT_EQ(support::read(folder / "a"), "two");
  fs::create_symlink(folder / "nowhere", folder / "link");
  EXPECT_THROW(store::write_file(folder / "link", "x"), InputError);
  EXPECT_THROW(store::write_file(folder / "link", "x", Existing::replace), InputError);
  EXPECT_EQ(names_in(folder.path()), (std::vector<std::string>{"a", "link"}));
}

TEST(WriteFile, never_takes_a_databases_or_a_devices_place) {
  const support::Folder folder;
  const std::string database = std::string("SQLite format 3\0 and more", 25);
  support::write(folder / "p.packhouse", database);
  EXPECT_THROW(store::write_file(folder / "p.packhouse", "x", Existing::replace), InputError);
  EXPECT_EQ(support::read(folder / "p.packhouse"), database);
  EXPECT_THROW(store::write_file("/dev/null", "x", Existing::replace), InputError);
  EXPECT_TRUE(fs::is_character_file("/dev/null"));
}

TEST(ReadFile, takes_plain_files_of_a_bounded_length_only) {
  const support::Folder folder;
  EXPECT_THROW((void)store::read_file("/dev/zero"), InputError);
  EXPECT_THROW((void)store::read_file(folder.path()), InputError);
  support::write(folder / "long", std::string(3000, 'x'));
  EXPECT_THROW((void)store::read_file(folder / "long", 2999), InputError);
  EXPECT_EQ(store::read_file(folder / "long", 3000).size(), 3000u);
}

TEST(PendingFolder, appears_whole_or_not_at_all) {
  const support::Folder folder;
  {
    store::PendingFolder pending(folder / "out");
    pending.add("logs/a.csv", "1");
    EXPECT_FALSE(fs::exists(folder / "out"));
  }
  EXPECT_TRUE(names_in(folder.path()).empty()) << "dropped without a trace";
  store::PendingFolder pending(folder / "out/");
  pending.add("logs/a.csv", "1");
  pending.add("b", "2");
  pending.commit();
  EXPECT_EQ(names_in(folder.path()),
            (std::vector<std::string>{"out", "out/b", "out/logs", "out/logs/a.csv"}));
}

TEST(PendingFolder, leaves_a_folder_with_other_files_as_it_was_where_one_cannot_be_put) {
  const support::Folder folder;
  support::write(folder / "out/b", "theirs");
  {
    store::PendingFolder pending(folder / "out");
    pending.add("a", "1");
    pending.add("b", "2");
    EXPECT_THROW(pending.commit(), InputError);
  }
  EXPECT_EQ(names_in(folder.path()), (std::vector<std::string>{"out", "out/b"}));
  EXPECT_EQ(support::read(folder / "out/b"), "theirs");
  {
    store::PendingFolder pending(folder / "out", Existing::replace);
    pending.add("a", "1");
    pending.add("b", "2");
    pending.commit();
  }
  EXPECT_EQ(names_in(folder.path()), (std::vector<std::string>{"out", "out/a", "out/b"}));
  EXPECT_EQ(support::read(folder / "out/b"), "2");
}

TEST(Leftovers, of_the_dead_are_cleared_and_those_of_the_living_let_be) {
  const support::Folder folder;
  const std::string dead = "p.part-4000000-1",
                    alive = "p.part-" + std::to_string(::getppid()) + "-1";
  for (const std::string& name :
       {dead, dead + "-wal", alive, std::string("p.partial"), std::string("other.part-4000000-1")})
    support::write(folder / name, "x");
  store::clear_leftovers(folder / "p");
  EXPECT_EQ(names_in(folder.path()),
            (std::vector<std::string>{"other.part-4000000-1", alive, "p.partial"}));
}

}  // namespace
