// SPDX-License-Identifier: Apache-2.0
#include "store/backup.hpp"

#include <gtest/gtest.h>
#include <sqlite3.h>
#include <sys/stat.h>

#include "base/input_error.hpp"
#include "store/in_use.hpp"
#include "store/project_file.hpp"
#include "store/text_form.hpp"
#include "tests/support/support.hpp"
#include "works/examples.hpp"

namespace {

namespace fs = std::filesystem;

constexpr std::int64_t day = 86400, noon = 1767268800;  // 2026-01-01 12:00 UTC

project::Project small(const std::string& name = "small") {
  project::Project p;
  p.about.name.say(name);
  p.cell.rated_capacity.say(100.0);
  p.cell.dc_resistance.say(1.0);
  p.bus.power.say(500.0);
  p.logs.push_back({"a.csv", "time_s,voltage_V,current_A\n0,3.2,0\n"});
  return p;
}

TEST(Backup, is_a_whole_project_that_stands_alone) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse";
  store::write_project(small(), file);
  const store::Backup b = store::back_up(file, store::backup_folder(file), noon);
  EXPECT_EQ(b.when, "2026-01-01 120000");
  EXPECT_EQ(store::read_project(b.file), small());
  EXPECT_FALSE(fs::exists(b.file.string() + "-wal"));
  const store::Backup again = store::back_up(file, store::backup_folder(file), noon);
  EXPECT_NE(again.file, b.file) << "none takes another's place";
}

TEST(Backup, holds_what_is_only_in_the_log_of_writes) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse";
  store::write_project(small(), file);
  sqlite3* reader = nullptr;  // keeps the log of writes from going into the file
  sqlite3_open(file.c_str(), &reader);
  sqlite3_exec(reader, "PRAGMA journal_mode = WAL; BEGIN; SELECT count(*) FROM setting", nullptr,
               nullptr, nullptr);
  store::update_project(small(), small("later"), file);
  ASSERT_TRUE(store::has_unsaved_log(file));
  const store::Backup b = store::back_up(file, folder / "out", noon);
  EXPECT_EQ(store::read_project(b.file), small("later"));
  sqlite3_close(reader);
}

TEST(Backup, keeps_the_last_ones_one_a_day_and_one_a_month) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse", out = folder / "out";
  store::write_project(small(), file);
  const store::Keeping keeping{.last = 3, .days = 5, .months = 4};
  for (int i = 0; i < 40; ++i)  // one every third day
    (void)store::back_up(file, out, noon + i * 3 * day, keeping);
  std::set<std::string> days, months;
  const auto all = store::backups_of(file, out);
  for (const store::Backup& b : all)
    days.insert(b.when.substr(0, 10)), months.insert(b.when.substr(0, 7));
  EXPECT_EQ(months.size(), 4u);  // January to April
  EXPECT_GE(days.size(), 5u);
  EXPECT_LE(all.size(), 3u + 5u + 4u);
  EXPECT_EQ(all.front().when, "2026-04-28 120000");
}

TEST(Backup, is_made_once_a_day_and_not_by_a_clock_set_back) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse";
  store::write_project(small(), file);
  EXPECT_TRUE(store::back_up_daily(file, noon));
  EXPECT_FALSE(store::back_up_daily(file, noon + 3600));
  EXPECT_FALSE(store::back_up_daily(file, noon - 400 * day));
  store::update_project(small(), small("later"), file);
  EXPECT_TRUE(store::back_up_daily(file, noon + day));
}

TEST(Restore, puts_a_backup_back_and_keeps_what_stood_there) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse";
  store::write_project(small(), file);
  const store::Backup b = store::back_up(file, store::backup_folder(file), noon);
  store::update_project(small(), small("later"), file);
  fs::permissions(file, fs::perms(0640));
  const fs::path kept = store::restore_project(b.file, file, noon + day);
  EXPECT_EQ(store::read_project(file), small());
  EXPECT_EQ(store::read_project(kept), small("later"));
  struct ::stat s {};
  ::stat(file.c_str(), &s);
  EXPECT_EQ(s.st_mode & 0777, 0640u) << "its mode stays";
}

TEST(Restore, deals_with_stale_writes_beside_the_file) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse", other = folder / "q.packhouse";
  store::write_project(small(), file);
  store::write_project(small(), other);
  const store::Backup b = store::back_up(file, store::backup_folder(file), noon);
  sqlite3* reader = nullptr;
  sqlite3_open(other.c_str(), &reader);
  sqlite3_exec(reader, "PRAGMA journal_mode = WAL; BEGIN; SELECT count(*) FROM setting", nullptr,
               nullptr, nullptr);
  store::update_project(small(), small("stale"), other);
  fs::copy_file(other.string() + "-wal", file.string() + "-wal");
  fs::copy_file(other.string() + "-shm", file.string() + "-shm");
  sqlite3_close(reader);
  support::write(file, "damaged beyond reading");
  const fs::path kept = store::restore_project(b.file, file, noon);
  EXPECT_EQ(store::read_project(file), small()) << "not what the stale log says";
  EXPECT_EQ(support::read(kept), "damaged beyond reading");
  EXPECT_TRUE(fs::exists(kept.string() + "-wal")) << "nothing is thrown away";
  fs::remove(file);
  EXPECT_TRUE(store::restore_project(b.file, file, noon).empty());
  EXPECT_EQ(store::read_project(file), small());
}

TEST(Restore, takes_nothing_that_is_no_whole_project) {
  const support::Folder folder;
  const fs::path file = folder / "p.packhouse", bad = folder / "bad.backup";
  store::write_project(small(), file);
  std::string bytes = support::read(file);
  support::write(bad, bytes.substr(0, bytes.size() / 2));
  EXPECT_THROW((void)store::restore_project(bad, file, noon), base::InputError);
  EXPECT_THROW((void)store::restore_project(file, file, noon), base::InputError);
  EXPECT_EQ(store::read_project(file), small());
  for (const auto& entry : fs::directory_iterator(folder.path()))
    EXPECT_EQ(entry.path().string().find(".part-"), std::string::npos) << entry.path();
}

TEST(Upgrade, has_a_whole_copy_first_also_where_half_of_one_lies_there) {
  const support::Folder folder;
  const fs::path file = folder / "old.packhouse", copy = folder / "old.packhouse.version-1.backup";
  store::write_old_version(small(), file, 1);
  support::write(copy, support::read(file).substr(0, 5000));  // a program ended while writing it
  EXPECT_TRUE(store::upgrade_project(file));
  EXPECT_FALSE(store::upgrade_project(file));
  EXPECT_EQ(store::read_project(file), small());
  EXPECT_EQ(store::read_project(copy), small());
}

}  // namespace
