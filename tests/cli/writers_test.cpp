// SPDX-License-Identifier: Apache-2.0
// Every way to write, from outside: nothing acknowledged is lost, nothing is written over, nothing
// is left behind.
#include <algorithm>
#include <thread>

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/mount.h>
#include <sys/stat.h>

#include "store/backup.hpp"
#include "store/project_file.hpp"
#include "store/text_form.hpp"
#include "tests/support/support.hpp"
#include "works/examples.hpp"

namespace {

namespace fs = std::filesystem;
using support::Folder;
using support::packhouse;
using support::Ran;

/// The cabin's project, written without the command.
void put_cabin(const fs::path& file) {
  store::write_project(store::from_text(works::example_files("cabin")), file);
}

void expect_no_leftovers(const fs::path& folder) {
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    const std::string name = entry.path().filename().string();
    EXPECT_EQ(name.find(".part-"), std::string::npos) << entry.path();
    EXPECT_FALSE(name.ends_with(".in-use")) << entry.path();
    EXPECT_FALSE(name.ends_with("-journal")) << entry.path();
  }
}

/// A step of the cabin that can be signed with a note, whatever stands open.
std::string a_step(const fs::path& folder) {
  const Ran lists = packhouse("checklist c.packhouse --json", folder);
  for (const auto& list : lists.json())
    for (const auto& s : list["steps"])
      if (s["expected"].is_null()) return s["id"];
  return "";
}

TEST(SignCommand, loses_no_signature_of_several_at_once) {
  const Folder folder;
  put_cabin(folder / "c.packhouse");
  const std::string id = a_step(folder.path());
  ASSERT_FALSE(id.empty());
  constexpr int writers = 4;
  std::vector<Ran> ran(writers);
  std::vector<std::thread> threads;
  for (int i = 0; i < writers; ++i)
    threads.emplace_back([&, i] {
      ran[std::size_t(i)] =
          packhouse(fmt::format("sign c.packhouse {} --by w{} --on 2026-11-01 --note seen", id, i),
                    folder.path());
    });
  for (std::thread& t : threads) t.join();
  const project::Project after = store::read_project(folder / "c.packhouse");
  int acknowledged = 0;
  for (int i = 0; i < writers; ++i) {
    EXPECT_EQ(ran[std::size_t(i)].code, 0) << ran[std::size_t(i)].err;
    if (ran[std::size_t(i)].code != 0) continue;
    ++acknowledged;
    EXPECT_TRUE(std::any_of(after.signatures.begin(), after.signatures.end(),
                            [&](const auto& s) { return s.by == fmt::format("w{}", i); }))
        << "w" << i << " was told that it is signed";
  }
  EXPECT_EQ(acknowledged, writers);
  expect_no_leftovers(folder.path());
}

TEST(SignCommand, leaves_links_owner_mode_and_protection_as_they_are) {
  const Folder folder;
  put_cabin(folder / "real/c.packhouse");
  fs::create_symlink("real/c.packhouse", folder / "c.packhouse");
  fs::create_hard_link(folder / "real/c.packhouse", folder / "hard");
  fs::permissions(folder / "real/c.packhouse", fs::perms(0640));
  const std::string id = a_step(folder.path());
  const std::string words =
      fmt::format("sign c.packhouse {} --by somebody --on 2026-11-01 --note seen", id);
  EXPECT_EQ(packhouse(words, folder.path()).code, 0);
  EXPECT_TRUE(fs::is_symlink(folder / "c.packhouse"));
  EXPECT_TRUE(fs::equivalent(folder / "hard", folder / "real/c.packhouse"));
  struct ::stat s {};
  ::stat((folder / "hard").c_str(), &s);
  EXPECT_EQ(s.st_mode & 0777, 0640u);
  EXPECT_EQ(store::read_project(folder / "hard").signatures.back().by, "somebody");
  fs::permissions(folder / "real/c.packhouse", fs::perms(0444));
  const std::string before = support::read(folder / "hard");
  const Ran refused = packhouse(words, folder.path());
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.err.find("write-protected"), std::string::npos) << refused.err;
  EXPECT_EQ(support::read(folder / "hard"), before);
}

TEST(SignCommand, asks_for_the_day_where_the_clock_is_far_off) {
  const Folder folder;
  put_cabin(folder / "c.packhouse");
  const std::string sign =
      fmt::format("sign c.packhouse {} --by somebody --note seen", a_step(folder.path()));
  EXPECT_EQ(packhouse(sign + " --on 2026-03-01", folder.path()).code, 0);
  for (const char* epoch : {"0", "1740787200", "1900000000"}) {  // 1970, March 2025, 2030
    ::setenv("SOURCE_DATE_EPOCH", epoch, 1);
    const Ran ran = packhouse(sign, folder.path());
    EXPECT_EQ(ran.code, 2) << epoch;
    EXPECT_NE(ran.err.find("--on"), std::string::npos) << ran.err;
    EXPECT_NE(ran.err.find("clock"), std::string::npos) << ran.err;
  }
  ::setenv("SOURCE_DATE_EPOCH", "1775000000", 1);  // the spring of 2026
  EXPECT_EQ(packhouse(sign, folder.path()).code, 0);
  ::unsetenv("SOURCE_DATE_EPOCH");
}

TEST(Outputs, take_no_projects_place_and_no_files_without_being_told) {
  const Folder folder;
  put_cabin(folder / "c.packhouse");
  support::write(folder / "day.csv", "time_s,power_W\n0,100\n600,0\n");
  const std::string before = support::read(folder / "c.packhouse");
  for (const char* words :
       {"labels c.packhouse --out c.packhouse", "labels c.packhouse --out c.packhouse --overwrite",
        "simulate c.packhouse --profile day.csv --series c.packhouse",
        "simulate c.packhouse --profile day.csv --series c.packhouse --overwrite",
        "rehearse c.packhouse loose-joint --series c.packhouse --overwrite"}) {
    const Ran ran = packhouse(words, folder.path());
    EXPECT_EQ(ran.code, 2) << words << ran.err;
    EXPECT_EQ(support::read(folder / "c.packhouse"), before) << words;
  }
  support::write(folder / "there", "theirs");
  const std::string series = "simulate c.packhouse --profile day.csv --series there";
  EXPECT_EQ(packhouse(series, folder.path()).code, 2);
  EXPECT_EQ(support::read(folder / "there"), "theirs");
  EXPECT_LE(packhouse(series + " --overwrite", folder.path()).code, 1);
  EXPECT_NE(support::read(folder / "there"), "theirs");
  expect_no_leftovers(folder.path());
}

TEST(DemoCommand, never_touches_a_project_that_was_edited) {
  const Folder folder;
  ASSERT_EQ(packhouse("demo d", folder.path()).code, 0);
  const fs::path file = folder / "d/smallholding.packhouse";
  project::Project edited = store::read_project(file);
  const project::Project before = edited;
  edited.about.note.say(std::string("mine"));
  store::update_project(before, edited, file);
  for (const char* words : {"demo d", "demo d --overwrite"}) {
    const Ran ran = packhouse(words, folder.path());
    EXPECT_EQ(ran.code, 2);
    EXPECT_NE(ran.err.find("edited"), std::string::npos) << ran.err;
    EXPECT_EQ(store::read_project(file), edited);
  }
}

TEST(BackupCommand, makes_lists_and_puts_back) {
  const Folder folder;
  put_cabin(folder / "c.packhouse");
  const project::Project before = store::read_project(folder / "c.packhouse");
  const Ran made = packhouse("backup c.packhouse --json", folder.path());
  ASSERT_EQ(made.code, 0) << made.err;
  EXPECT_EQ(store::read_project(made.json()["backup"].get<std::string>()), before);
  EXPECT_EQ(packhouse("backup c.packhouse --out stick", folder.path()).code, 0);
  project::Project edited = before;
  edited.about.note.say(std::string("mine"));
  store::update_project(before, edited, folder / "c.packhouse");
  EXPECT_EQ(packhouse("restore c.packhouse --list --json", folder.path()).json().size(), 1u);
  const Ran back = packhouse("restore c.packhouse --json", folder.path());
  ASSERT_EQ(back.code, 0) << back.err;
  EXPECT_EQ(store::read_project(folder / "c.packhouse"), before);
  EXPECT_EQ(store::read_project(back.json()["kept"].get<std::string>()), edited);
  EXPECT_EQ(packhouse("restore c.packhouse --from nothing", folder.path()).code, 2);
  EXPECT_EQ(packhouse("restore other.packhouse", folder.path()).code, 2);
  expect_no_leftovers(folder.path());
}

/// A small disk of its own; not everybody may mount one.
class Disk {
 public:
  explicit Disk(const fs::path& at) : at_(at) {
    fs::create_directories(at);
    mounted = ::mount("tmpfs", at.c_str(), "tmpfs", 0, "size=2m") == 0;
  }
  ~Disk() {
    if (mounted) ::umount2(at_.c_str(), MNT_DETACH);
  }
  void fill() const { std::ofstream(at_ / "filler") << std::string(4 << 20, 'x'); }
  void make_read_only() const {
    ::mount("tmpfs", at_.c_str(), "tmpfs", MS_REMOUNT | MS_RDONLY, "size=2m");
  }
  bool mounted = false;

 private:
  fs::path at_;
};

TEST(FullDisk, lets_everything_be_read_and_names_the_cause_of_what_cannot_be_written) {
  const Folder folder;
  const Disk disk(folder / "disk");
  if (!disk.mounted) GTEST_SKIP() << "no disk can be mounted here";
  const fs::path file = folder / "disk/c.packhouse";
  put_cabin(file);
  project::Project before = store::read_project(file);
  before.about.note.say(std::string("with a log of writes from now on"));
  store::update_project(store::read_project(file), before, file);
  disk.fill();
  EXPECT_LE(packhouse("check disk/c.packhouse", folder.path()).code, 1);
  EXPECT_EQ(packhouse("export disk/c.packhouse elsewhere", folder.path()).code, 0);
  const Ran full = packhouse("backup disk/c.packhouse", folder.path());
  EXPECT_EQ(full.code, 2);
  EXPECT_NE(full.err.find("No space left"), std::string::npos) << full.err;
  EXPECT_EQ(packhouse("backup disk/c.packhouse --out spare", folder.path()).code, 0);
  EXPECT_EQ(store::read_project(file), before);
  expect_no_leftovers(folder.path());
}

TEST(ReadOnlyDisk, lets_everything_be_read) {
  const Folder folder;
  const Disk disk(folder / "disk");
  if (!disk.mounted) GTEST_SKIP() << "no disk can be mounted here";
  put_cabin(folder / "disk/c.packhouse");
  store::write_old_version(store::read_project(folder / "disk/c.packhouse"),
                           folder / "disk/old.packhouse", 3);
  const fs::path file = folder / "disk/c.packhouse";
  project::Project before = store::read_project(file);
  before.about.note.say(std::string("with a log of writes from now on"));
  store::update_project(store::read_project(file), before, file);
  disk.make_read_only();
  EXPECT_EQ(store::read_project(file), before);
  EXPECT_LE(packhouse("check disk/c.packhouse", folder.path()).code, 1);
  EXPECT_LE(packhouse("check disk/old.packhouse", folder.path()).code, 1) << "of an older version";
  EXPECT_EQ(packhouse("export disk/c.packhouse elsewhere", folder.path()).code, 0);
  const Ran refused = packhouse("backup disk/c.packhouse", folder.path());
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.err.find("Read-only"), std::string::npos) << refused.err;
}

TEST(FileTooLong, is_said_and_leaves_nothing) {
  const Folder folder;
  const Ran ran = packhouse("example cabin text && (ulimit -f 40; '" PACKHOUSE_COMMAND
                            "' import text c.packhouse)",
                            folder.path());
  EXPECT_EQ(ran.code, 2) << ran.err;
  EXPECT_NE(ran.err.find("c.packhouse"), std::string::npos) << ran.err;
  EXPECT_FALSE(fs::exists(folder / "c.packhouse"));
  expect_no_leftovers(folder.path());
}

TEST(ImportCommand, follows_no_link_out_of_the_folder_and_reads_no_device) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  support::write(folder / "secret", "not yours");
  fs::create_symlink(folder / "secret", folder / "text/logs/secret.csv");
  Ran ran = packhouse("import text c.packhouse", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_NE(ran.err.find("secret.csv"), std::string::npos) << ran.err;
  fs::remove(folder / "text/logs/secret.csv");
  fs::create_symlink("/dev/zero", folder / "text/load.csv");
  ran = packhouse("import text c.packhouse", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_NE(ran.err.find("load.csv"), std::string::npos) << ran.err;
}

TEST(ImportCommand, refuses_a_house_table_that_a_step_could_not_read) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  for (const auto& [name, text] :
       std::map<std::string, std::string>{{"load.csv", "time,load_kW\n2025-01-01 00:00,x\n"},
                                          {"solar.csv", "time,solar_kW\n2025-01-01 00:00,1\n"},
                                          {"prices.csv", "time,price\n2025-01-01 00:00,0.3\n"},
                                          {"tariff.csv", "price,from_h,to_h\n0.3,0,12\n"},
                                          {"weather.epw", "LOCATION\n"},
                                          {"weather.csv", "time,global_W_m2\n2025-01-01 00:00,1\n"},
                                          {"channels.csv", "what\n1\n"}}) {
    support::write(folder / "text" / name, text);
    const Ran ran = packhouse("import text c.packhouse", folder.path());
    EXPECT_EQ(ran.code, 2) << name;
    EXPECT_NE(ran.err.find(name), std::string::npos) << ran.err;
    EXPECT_FALSE(fs::exists(folder / "c.packhouse"));
    fs::remove(folder / "text" / name);
  }
  EXPECT_EQ(packhouse("import text c.packhouse", folder.path()).code, 0);
}

TEST(Text, that_is_no_utf_8_is_decoded_or_refused_and_never_our_own_fault) {
  const Folder folder;
  ASSERT_EQ(packhouse("example cabin text", folder.path()).code, 0);
  const std::string cells = support::read(folder / "text/cells.csv"),
                    toml = support::read(folder / "text/project.toml");
  support::write(folder / "text/cells.csv", cells + "Gr\xFC\x6E,,,,,,\n");  // Latin-1
  Ran ran = packhouse("import text latin.packhouse", folder.path());
  EXPECT_EQ(ran.code, 0) << ran.err;
  EXPECT_EQ(store::read_project(folder / "latin.packhouse").cells.back().label, "Grün");
  EXPECT_LE(packhouse("plan latin.packhouse --json", folder.path()).code, 1);
  support::write(folder / "text/cells.csv", cells + std::string("C\0A,,,,,,\n", 10));
  ran = packhouse("import text nul.packhouse", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_NE(ran.err.find("a zero byte"), std::string::npos) << ran.err;
  EXPECT_NE(ran.err.find("column 2"), std::string::npos) << ran.err;
  EXPECT_NE(ran.err.find("to do:"), std::string::npos) << "the message is whole: " << ran.err;
  support::write(folder / "text/cells.csv", cells);
  for (const char* value : {"\"a\xFC\"", "\"a\\u0000\"", "\"a\xED\xA0\x80\""}) {
    support::write(folder / "text/project.toml",
                   toml + "[[signed]]\nwhat = \"x\"\non = \"2026-01-01\"\nby = " + value + "\n");
    ran = packhouse("import text bad.packhouse", folder.path());
    EXPECT_EQ(ran.code, 2) << value << ran.err;
    EXPECT_NE(ran.err.find("project.toml, line"), std::string::npos) << ran.err;
  }
  EXPECT_EQ(packhouse("new x.packhouse --json --name $(printf 'a\\374') --capacity-Ah 100 "
                      "--resistance-mOhm 1 --power-W 500",
                      folder.path())
                .code,
            2);
  EXPECT_EQ(packhouse("import text $(printf 'b\\374.packhouse') --json", folder.path()).code, 2);
  support::write(folder / "text/project.toml", toml);
  EXPECT_EQ(packhouse("import text $(printf 'b\\374.packhouse') --json", folder.path()).code, 0)
      << "a file's name may be any bytes";
}

TEST(ProjectFile, that_is_empty_is_called_so) {
  const Folder folder;
  support::write(folder / "c.packhouse", "");
  const Ran ran = packhouse("check c.packhouse", folder.path());
  EXPECT_EQ(ran.code, 2);
  EXPECT_NE(ran.err.find("an empty file"), std::string::npos) << ran.err;
}

}  // namespace
