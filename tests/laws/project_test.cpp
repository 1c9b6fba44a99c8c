// SPDX-License-Identifier: Apache-2.0
// Projects made at random survive text and file without loss; a plan is a pure function of its
// project.
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <sqlite3.h>

#include "base/input_error.hpp"
#include "project/edit.hpp"
#include "project/fields.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "store/text_form.hpp"
#include "tests/support/support.hpp"
#include "works/examples.hpp"
#include "works/plan.hpp"

namespace {

namespace fs = std::filesystem;

std::string any_text() {
  static const std::vector<std::string> pieces = {"a",
                                                  "B7",
                                                  " ",
                                                  "é",
                                                  "Ω",
                                                  "“",
                                                  "\"",
                                                  "\\",
                                                  "\n",
                                                  "\t",
                                                  "=1+1",
                                                  "-",
                                                  "'",
                                                  ",",
                                                  ";",
                                                  "<b>",
                                                  "\xF0\x9F\x94\x8B",
                                                  "#",
                                                  "[x]",
                                                  "0"};
  std::string text;
  for (const int i : *rc::gen::container<std::vector<int>>(rc::gen::inRange(0, int(pieces.size()))))
    text += pieces[std::size_t(i)];
  return text;
}

/// A label as one may be entered: on one line, no blanks around it.
std::string any_label(int i) {
  std::string label = "c" + std::to_string(i) + any_text();
  std::replace_if(
      label.begin(), label.end(), [](char c) { return c == '\n' || c == '\t'; }, '_');
  while (label.back() == ' ') label.pop_back();
  return label;
}

/// The least that is a whole picture.
std::string small_jpeg() {
  using namespace std::string_literals;
  return "\xFF\xD8\xFF\xC0\0\x0B\x08\0\1\0\1\1\1\x11\0\xFF\xDA\0\x08\1\1\0\0\x3F\0zz\xFF\xD9"s;
}

std::optional<double> maybe_number(double low, double high) {
  if (*rc::gen::inRange(0, 3) == 0) return std::nullopt;
  return low + (high - low) * (*rc::gen::inRange(0, 1000001)) / 1e6;
}

project::Value any_value(const project::Row& row) {
  switch (row.kind) {
    case project::Row::Kind::text:
      return row.key == "name"      ? "n" + any_text()
             : row.key == "columns" ? std::string("current=Strom 2; time=Zeit[min]")
                                    : any_text();
    case project::Row::Kind::choice:
      return std::string(
          row.choices[std::size_t(*rc::gen::inRange(0, int(row.choices.size())))].code);
    case project::Row::Kind::whole:
      return double(*rc::gen::inRange(int(row.min), std::min(int(row.max), 40) + 1));
    case project::Row::Kind::number:
      break;
  }
  return row.min + (row.max - row.min) * (*rc::gen::inRange(0, 1000001)) / 1e6;
}

project::Project any_project() {
  project::Project p;
  for (const project::Row* row : project::catalogue()) {
    if (!row->must_be_said && *rc::gen::inRange(0, 3) > 0) continue;
    at(p, *row).say(any_value(*row));
  }
  // What no single setting's range says: a standard section, and a current that exists.
  if (p.wiring.area.given()) p.wiring.area.say(*rc::gen::element(16.0, 35.0, 120.0));
  p.bus.power.say(1.0 + *rc::gen::inRange(0, 1000001) / 1e3);
  p.cell.min.say(2.5);
  p.cell.max.say(3.65);
  const int cells = *rc::gen::inRange(0, 6);
  for (int i = 0; i < cells; ++i)
    p.cells.push_back({any_label(i), any_text(), maybe_number(-1, 6), maybe_number(0, 10),
                       maybe_number(0, 9), maybe_number(0, 90), any_text(), maybe_number(0, 400),
                       maybe_number(0, 4), maybe_number(0, 3), maybe_number(-5, 5), any_text()});
  const int offers = *rc::gen::inRange(0, 3);
  for (int i = 0; i < offers; ++i)
    p.offers.push_back({any_text(), *maybe_number(0, 1) ? 12.34 : 0.1, *rc::gen::inRange(1, 500),
                        maybe_number(0, 900).value_or(0.0), maybe_number(0, 90).value_or(0.0), 2.7,
                        19.0, 0.0, maybe_number(0, 300).value_or(0.0),
                        *rc::gen::inRange(0, 2) == 1});
  const int logs = *rc::gen::inRange(0, 4);
  for (int i = 0; i < logs; ++i)
    p.logs.push_back({"log-" + std::to_string(i) + ".csv",
                      *rc::gen::container<std::string>(rc::gen::arbitrary<char>())});
  if (*rc::gen::inRange(0, 2) == 1 && !p.cells.empty()) {
    const std::string name = project::photo_name(p.cells[0].label, 1, "jpg");
    if (store::safe_file_name(name))  // a label of 200 signs makes a name that no file takes
      p.photos.push_back({name, small_jpeg()});
  }
  if (*rc::gen::inRange(0, 2) == 1) p.series.push_back({"load.csv", "time,kWh\n0,1\n"});
  if (*rc::gen::inRange(0, 2) == 1)
    p.signatures.push_back(
        {any_text(), any_text(), "2026-03-01", maybe_number(-1e3, 1e3), any_text()});
  return p;
}

TEST(Projects, survive_the_text_form_and_the_file_without_loss) {
  const support::Folder folder;
  int n = 0;
  EXPECT_TRUE(rc::check("text and file give the same project back", [&] {
    const project::Project project = any_project();
    RC_ASSERT(store::from_text(store::to_text(project)) == project);
    const fs::path file = folder / ("p" + std::to_string(++n) + ".packhouse");
    store::write_project(project, file);
    RC_ASSERT(store::read_project(file) == project);
  }));
}

TEST(Projects, of_another_age_keep_what_todays_catalogue_does_not_take) {
  project::Project project = store::from_text(works::example_files("cabin"));
  take(project, "bms.cell_high_V", 9.0);                         // once allowed
  take(project, "bms.a_key_of_tomorrow", std::string("value"));  // not known yet, or no more
  take(project, "gone.with_its_table", 2.0);
  take(project, "bms.cell_low_V", std::string("a text where a number stands"));
  EXPECT_EQ(project.unknown.size(), 3u);
  EXPECT_DOUBLE_EQ(project.bms.cell_high.in(base::units::V), project.bms.cell_high.row().max);
  EXPECT_EQ(store::from_text(store::to_text(project)), project);
  const support::Folder folder;
  store::write_project(project, folder / "p.packhouse");
  EXPECT_EQ(store::read_project(folder / "p.packhouse"), project);
}

TEST(TextForm, of_another_format_is_taken_as_it_is_and_of_todays_is_held_to_the_catalogue) {
  store::TextForm files = works::example_files("cabin");
  std::string& main = files["project.toml"];
  const std::string line = "[bms]\ncell_high_V = 9\n";
  main = main + "\n" + line;
  EXPECT_THROW((void)store::from_text(files), base::InputError);
  main = "format = 1\n" + main;
  EXPECT_EQ(std::get<double>(*store::from_text(files).bms.cell_high.said()), 9.0);
}

/// What a page may send: any field of a setting, a cell or an offer, within or past its range.
base::Json any_edit(const project::Project& project) {
  const auto number = [](double min, double max) {
    return *rc::gen::inRange(0, 4) == 0 ? max
                                        : min + (max - min) * (*rc::gen::inRange(0, 1001)) / 1e3;
  };
  switch (*rc::gen::inRange(0, 3)) {
    case 0: {
      const auto& rows = project::catalogue();
      const project::Row& row = *rows[std::size_t(*rc::gen::inRange(0, int(rows.size())))];
      base::Json edit = {{"what", "setting"}, {"name", row.path()}};
      std::visit([&](const auto& v) { edit["after"] = v; }, any_value(row));
      return edit;
    }
    case 1: {
      const auto& fields = project::cell_numbers();
      const auto& f = fields[std::size_t(*rc::gen::inRange(0, int(fields.size())))];
      return {{"what", "cell"},
              {"name", project.cells[0].label},
              {"field", f.name},
              {"after", number(f.min, f.max)}};
    }
    default: {
      base::Json offer = {{"name", any_text()}};
      for (const project::OfferNumber& f : project::offer_numbers())
        offer[std::string(f.name)] = number(f.min, f.max);
      for (const project::OfferWhole& f : project::offer_wholes())
        offer[std::string(f.name)] = std::floor(number(f.min - 1, f.max));
      return {{"what", "offer"},
              {"name", std::to_string(*rc::gen::inRange(0, int(project.offers.size()) + 1))},
              {"after", offer}};
    }
  }
}

TEST(Edits, that_are_taken_survive_export_and_import) {
  const project::Project start = store::from_text(works::example_files("cabin"));
  int taken = 0, refused = 0;
  EXPECT_TRUE(rc::check("what the page accepts, export writes and import takes", [&] {
    project::Project project = start;
    for (int i = 0; i < 5; ++i) {
      const base::Json edit = any_edit(project);
      try {
        project = with_changes(project, read_changes(project, base::Json::array({edit})));
        ++taken;
      } catch (const base::InputError&) {
        ++refused;  // out of range, or a check over several settings
      }
    }
    RC_ASSERT(store::from_text(store::to_text(project)) == project);
  }));
  EXPECT_GT(taken, 100);
  EXPECT_GT(refused, 0);
}

TEST(Projects, survive_the_folder_and_the_command_without_loss) {
  const support::Folder folder;
  for (const works::Example& e : works::examples()) {
    const std::string n(e.name);
    ASSERT_EQ(support::packhouse(
                  "example " + n + " " + n + " && '" PACKHOUSE_COMMAND "' import " + n + " " + n +
                      ".packhouse && '" PACKHOUSE_COMMAND "' export " + n + ".packhouse " + n +
                      "-2 && '" PACKHOUSE_COMMAND "' import " + n + "-2 " + n + "-2.packhouse",
                  folder.path())
                  .code,
              0);
    EXPECT_EQ(store::read_project(folder / (n + ".packhouse")),
              store::read_project(folder / (n + "-2.packhouse")));
    for (const auto& [path, bytes] : works::example_files(n))
      if (path.starts_with("logs/")) {
        EXPECT_EQ(support::read(folder / (n + "-2") / path), bytes) << path;
      }
  }
}

TEST(Plan, is_the_same_to_the_byte_for_the_same_project) {
  const project::Project project = store::from_text(works::example_files("cabin"));
  EXPECT_EQ(works::to_json(works::plan(project)).dump(),
            works::to_json(works::plan(project)).dump());
  EXPECT_EQ(works::example_files("cabin"), works::example_files("cabin"));
}

TEST(ProjectFile, of_an_older_version_is_read_as_it_is_and_upgraded_on_a_copy) {
  const support::Folder folder;
  project::Project project = store::from_text(works::example_files("cabin"));
  project.series.clear();
  project.signatures.clear();
  const fs::path file = folder / "old.packhouse";
  store::write_old_version(project, file, 1);
  sqlite3* db = nullptr;  // as a program of that version left it
  sqlite3_open(file.c_str(), &db);
  sqlite3_exec(db, "PRAGMA journal_mode = WAL; UPDATE cell SET note = note", nullptr, nullptr,
               nullptr);
  sqlite3_close(db);
  const std::string before = support::read(file);
  EXPECT_EQ(store::read_project(file), project);
  EXPECT_EQ(support::read(file), before) << "who only reads writes nothing";
  EXPECT_TRUE(store::upgrade_project(file));
  ASSERT_TRUE(fs::exists(folder / "old.packhouse.version-1.backup"));
  EXPECT_EQ(store::read_project(file), project);  // now of today's version
  EXPECT_EQ(store::read_project(folder / "old.packhouse.version-1.backup"), project);
}

TEST(ProjectFile, truncated_anywhere_or_with_any_byte_turned_is_refused_or_still_whole) {
  const support::Folder folder;
  project::Project project;
  project.about.name.say(std::string("small"));
  project.cell.rated_capacity.say(100.0);
  project.cell.dc_resistance.say(1.0);
  project.bus.power.say(500.0);
  project.cells.push_back({"a", "", 3.2, {}, {}, {}, "", 101.0, {}, {}, {}, ""});
  project.logs.push_back({"a.csv", "time_s,voltage_V,current_A\n0,3.2,0\n"});
  const fs::path whole = folder / "whole.packhouse", hurt = folder / "hurt.packhouse";
  store::write_project(project, whole);
  const std::string bytes = support::read(whole);
  int refused = 0, same = 0, differ = 0;
  const auto attempt = [&](const std::string& damaged) {
    support::write(hurt, damaged);
    try {
      (store::read_project(hurt) == project ? same : differ) += 1;
    } catch (const base::InputError&) {
      ++refused;
    }
    for (const char* suffix : {"-wal", "-shm"}) fs::remove(hurt.string() + suffix);
  };
  for (std::size_t size = 1; size < bytes.size(); size += 509) attempt(bytes.substr(0, size));
  EXPECT_EQ(same + differ, 0);
  for (std::size_t at = 0; at < bytes.size(); at += 97) {
    std::string damaged = bytes;
    damaged[at] = char(damaged[at] ^ 0x5A);
    attempt(damaged);
  }
  EXPECT_GT(refused, 0);
  EXPECT_GT(same, 0);  // unused space
  // A turned digit inside a stored number is the one thing that an integrity check cannot see.
  EXPECT_LT(differ, 12) << refused << " refused, " << same << " unharmed";
}

TEST(ProjectFile, of_another_program_or_a_newer_version_is_refused_in_words) {
  const support::Folder folder;
  const auto said = [&](const fs::path& file) {
    try {
      (void)store::read_project(file);
    } catch (const base::InputError& e) {
      return std::string(e.what());
    }
    return std::string("accepted");
  };
  support::write(folder / "text.packhouse",
                 "hello, this is a text and no database at all, though long enough to be one\n");
  EXPECT_NE(said(folder / "text.packhouse").find("no project"), std::string::npos);
  sqlite3* db = nullptr;
  sqlite3_open((folder / "other.packhouse").c_str(), &db);
  sqlite3_exec(db, "CREATE TABLE x (y); PRAGMA application_id = 7;", nullptr, nullptr, nullptr);
  sqlite3_close(db);
  EXPECT_NE(said(folder / "other.packhouse").find("another program"), std::string::npos);
  store::write_project(store::from_text(works::example_files("cabin")), folder / "new.packhouse");
  sqlite3_open((folder / "new.packhouse").c_str(), &db);
  sqlite3_exec(db, "PRAGMA user_version = 99;", nullptr, nullptr, nullptr);
  sqlite3_close(db);
  EXPECT_NE(said(folder / "new.packhouse").find("newer Packhouse"), std::string::npos);
}

/// A project with one of everything, as it is kept of every version.
project::Project kept_project() {
  project::Project p;
  p.about.name.say(std::string("kept"));
  p.cell.rated_capacity.say(100.0);
  p.cell.dc_resistance.say(1.0);
  p.bus.power.say(500.0);
  p.cells.push_back({"a", "lot 1", 3.21, 0.4, 1.9, {}, "note", 101.0, {}, {}, {}, "2025-03"});
  p.cells.push_back({"b", "", {}, {}, {}, {}, "", {}, {}, {}, {}, ""});
  p.offers.push_back({"one", 42.5, 16, 30.0, 0.0, 2.7, 19.0, 0.0, 100.0, true, 3.2, 4000.0});
  p.logs.push_back({"a.csv", "time_s,voltage_V,current_A\n0,3.2,0\n"});
  p.series.push_back({"tariff.csv", "price\n0.3\n"});
  p.signatures.push_back({"lay-up/place", "somebody", "2026-03-01", 1.5, "seen"});
  p.photos.push_back({project::photo_name("a", 1, "jpg"), small_jpeg()});
  return p;
}

TEST(ProjectFile, of_every_version_that_was_kept_opens_and_is_what_it_was) {
  const support::Folder folder;
  for (int version = 1; version <= store::schema_version(); ++version) {
    const fs::path kept = fs::path(SOURCE_ROOT) / "tests/files/projects" /
                          ("version-" + std::to_string(version) + ".packhouse");
    // A new version's file is made once, when it comes; one that was kept is never written anew.
    if (!fs::exists(kept) && std::getenv("PACKHOUSE_KEEP_VERSION") != nullptr)
      store::write_old_version(kept_project(), kept, version);
    ASSERT_TRUE(fs::exists(kept)) << "make it: tools/keep-project-version";
    const fs::path file = folder / kept.filename();
    fs::copy_file(kept, file);
    const project::Project project = store::read_project(file);
    EXPECT_EQ(project.about.name(), "kept");
    EXPECT_EQ(project.cells.size(), 2u);
    EXPECT_EQ(project.cells[0].voltage_V, 3.21);
    EXPECT_EQ(project.cells[0].made, version >= 3 ? "2025-03" : "");
    EXPECT_EQ(project.offers.size(), 1u);
    EXPECT_EQ(project.offers[0].rated_cycles, version >= 5 ? 4000.0 : 0.0);
    EXPECT_EQ(project.logs.size(), 1u);
    EXPECT_EQ(project.series.size(), version >= 2 ? 1u : 0u);
    EXPECT_EQ(project.signatures.size(), version >= 2 ? 1u : 0u);
    EXPECT_EQ(project.photos.size(), version >= 6 ? 1u : 0u);
    EXPECT_EQ(store::upgrade_project(file), version < store::schema_version());
    EXPECT_EQ(store::read_project(file), project);
  }
}

}  // namespace
