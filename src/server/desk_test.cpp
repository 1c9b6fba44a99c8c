// SPDX-License-Identifier: Apache-2.0
#include "server/desk.hpp"

#include <atomic>

#include <gtest/gtest.h>

#include "base/input_error.hpp"
#include "store/backup.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"
#include "tests/support/support.hpp"
#include "works/examples.hpp"

namespace {

namespace fs = std::filesystem;
using base::Json;
using server::Desk;

struct Open {
  support::Folder folder;
  fs::path file = folder.path() / "cabin.packhouse";
  std::atomic<int> events = 0;
  std::unique_ptr<Desk> desk;
  Open() {
    store::write_project(store::from_text(works::example_files("cabin")), file);
    open();
  }
  void open() {
    desk = std::make_unique<Desk>(file, "a test", [this](const Json&) { ++events; });
  }
  std::uint64_t set(const std::string& path, const Json& value, const std::string& key = "") {
    return desk->change(
        [&](const project::Project& p) {
          return project::read_changes(p,
                                       {{{"what", "setting"}, {"name", path}, {"after", value}}});
        },
        path, key);
  }
};

TEST(Desk, has_every_edit_on_disk_when_it_answers) {
  Open o;
  for (int i = 0; i < 20; ++i) {
    (void)o.set("bus.power_W", 2000 + i);
    EXPECT_EQ(store::read_project(o.file).bus.power.in(base::units::W), 2000 + i);
    EXPECT_TRUE(store::read_project(o.file) == *o.desk->state().project);
  }
}

TEST(Desk, takes_back_and_makes_again_through_the_file) {
  Open o;
  const project::Project start = *o.desk->state().project;
  (void)o.set("bus.power_W", 2345);
  (void)o.set("project.note", "one");
  const std::string label = start.cells[2].label;
  (void)o.desk->change(
      [&](const project::Project& p) {
        return project::read_changes(p, {{{"what", "cell"}, {"name", label}, {"after", nullptr}}});
      },
      "a cell");
  const project::Project end = *o.desk->state().project;
  for (int i = 0; i < 3; ++i) (void)o.desk->undo();
  EXPECT_TRUE(store::read_project(o.file) == start);
  EXPECT_THROW((void)o.desk->undo(), base::InputError);
  for (int i = 0; i < 3; ++i) (void)o.desk->redo();
  EXPECT_TRUE(store::read_project(o.file) == end);
  EXPECT_THROW((void)o.desk->redo(), base::InputError);
  (void)o.desk->undo();
  (void)o.set("project.note", "two");
  EXPECT_TRUE(o.desk->state().redo.empty()) << "a new edit ends what could be made again";
}

TEST(Desk, makes_an_edit_of_one_key_once) {
  Open o;
  const auto first = o.set("project.note", "a", "key-1");
  EXPECT_EQ(o.set("project.note", "b", "key-1"), first);
  EXPECT_EQ(o.desk->state().project->about.note(), "a");
}

TEST(Desk, makes_an_edit_of_one_key_once_also_after_it_was_ended) {
  Open o;
  const auto set = [&](const std::string& note, const Desk::Sent& sent) {
    return o.desk->change(
        [&](const project::Project& p) {
          return project::read_changes(
              p, {{{"what", "setting"}, {"name", "project.note"}, {"after", note}}});
        },
        "a note", sent);
  };
  (void)set("a", {"key-1", "hash-a"});
  o.desk.reset();
  o.open();
  (void)set("b", {"key-1", "hash-a"});
  EXPECT_EQ(o.desk->state().project->about.note(), "a");
  EXPECT_THROW((void)set("c", {"key-1", "hash-c"}), server::KeyUsed);
  EXPECT_EQ(o.desk->state().project->about.note(), "a");
}

TEST(Desk, gives_a_whole_copy_also_where_its_file_was_removed) {
  Open o;
  (void)o.set("project.note", "mine");
  const fs::path copy = o.folder / "copy.packhouse", second = o.folder / "second.packhouse";
  o.desk->copy_to(copy);
  EXPECT_EQ(store::read_project(copy).about.note(), "mine");
  fs::remove(o.file);
  EXPECT_THROW((void)o.set("project.note", "lost"), base::InputError);
  o.desk->copy_to(second);
  EXPECT_EQ(store::read_project(second).about.note(), "mine");
}

TEST(Desk, keeps_a_second_page_out_by_every_name_of_its_file) {
  Open o;
  fs::create_symlink(o.file, o.folder / "soft");
  fs::create_hard_link(o.file, o.folder / "hard");
  for (const char* name : {"soft", "hard"})
    EXPECT_THROW(Desk(o.folder / name, "the second", [](const Json&) {}), base::InputError) << name;
}

TEST(Desk, backs_up_once_a_day_and_before_much_changes_at_once) {
  Open o;
  o.desk.reset();
  std::int64_t now = 1767268800;
  Desk desk(
      o.file, "a test", [](const Json&) {}, [&] { return now; });
  const auto set = [&](int many) {
    base::Json list = base::Json::array();
    for (int i = 0; i < many; ++i)
      list.push_back({{"what", "setting"}, {"name", "bus.power_W"}, {"after", 2000 + i}});
    (void)desk.change([&](const project::Project& p) { return project::read_changes(p, list); },
                      "x");
  };
  const auto count = [&] { return store::backups_of(o.file, store::backup_folder(o.file)).size(); };
  set(1);
  set(1);
  EXPECT_EQ(count(), 1u);
  now += 86400;
  set(2);
  EXPECT_EQ(count(), 2u);
  set(30);
  EXPECT_EQ(count(), 3u);
}

TEST(Desk, leaves_everything_as_it_was_when_it_refuses) {
  Open o;
  const project::Project before = *o.desk->state().project;
  const auto revision = o.desk->state().revision;
  EXPECT_THROW((void)o.set("bus.power_W", "much"), base::InputError);
  EXPECT_THROW((void)o.set("cell.max_V", 1.2), base::InputError);
  EXPECT_THROW((void)o.desk->change(
                   [](const project::Project& p) {
                     return project::read_changes(
                         p, {{{"what", "series"}, {"name", "runs.csv"}, {"after", "nonsense\n"}}});
                   },
                   "runs"),
               base::InputError)
      << "a table that cannot be read would leave no plan";
  EXPECT_EQ(o.desk->state().revision, revision);
  EXPECT_TRUE(store::read_project(o.file) == before);
  EXPECT_TRUE(o.desk->state().undo.empty());
}

TEST(Desk, plans_the_latest_revision) {
  Open o;
  (void)o.set("bus.power_W", 2100);
  const auto revision = o.set("bus.power_W", 2200);
  const server::Planned planned = o.desk->planned();
  EXPECT_EQ(planned.revision, revision);
  ASSERT_TRUE(planned.plan);
  EXPECT_EQ(works::to_json(*planned.plan).dump(),
            works::to_json(works::plan(*planned.project)).dump());
  EXPECT_GT(o.events.load(), 0);
}

TEST(Desk, takes_in_what_another_program_wrote) {
  Open o;
  project::Project theirs = *o.desk->state().project;
  theirs.about.note.say(std::string("theirs"));
  // As a copy put back in the file's place would: past the lock that well-behaved programs ask.
  const fs::path other = o.folder.path() / "other.packhouse";
  store::write_project(theirs, other);
  fs::rename(other, o.file);
  // An edit that is refused on the way leaves it taken in, and planned.
  EXPECT_THROW((void)o.set("bus.power_W", "much"), base::InputError);
  EXPECT_EQ(o.desk->planned().project->about.note(), "theirs");
  (void)o.set("bus.power_W", 2222);
  const project::Project now = store::read_project(o.file);
  EXPECT_EQ(now.about.note(), "theirs") << "nothing of theirs is lost";
  EXPECT_EQ(now.bus.power.in(base::units::W), 2222);
}

TEST(Desk, keeps_a_second_writer_out_and_says_who_is_in) {
  Open o;
  try {
    Desk second(o.file, "the second", [](const Json&) {});
    FAIL() << "two writers";
  } catch (const base::InputError& e) {
    EXPECT_NE(e.found().find("a test"), std::string::npos) << e.what();
  }
  EXPECT_THROW(store::InUse(o.file, "a command", store::InUse::Stay::brief, 5.0), base::InputError);
  EXPECT_NO_THROW((void)store::read_project(o.file)) << "readers are welcome";
  o.desk.reset();
  EXPECT_NO_THROW(o.open());
}

TEST(Desk, begins_a_file_that_is_not_there) {
  support::Folder folder;
  Desk desk(folder.path() / "new.packhouse", "a test", [](const Json&) {});
  EXPECT_FALSE(desk.begun());
  desk.begin(store::from_text(works::example_files("cabin")));
  EXPECT_TRUE(desk.begun());
  EXPECT_THROW(desk.begin(project::Project{}), base::InputError);
  EXPECT_TRUE(fs::exists(folder.path() / "new.packhouse"));
}

}  // namespace
