// SPDX-License-Identifier: Apache-2.0
// What the tests of faults share: running the command with a fault, a small project, what may be
// left behind.
#pragma once

#include <cstdlib>
#include <map>
#include <string>

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "store/in_use.hpp"
#include "store/project_file.hpp"
#include "tests/support/support.hpp"
#include "works/plan.hpp"
#include "works/worklist.hpp"

namespace faults {

namespace fs = std::filesystem;

/// The whole edition takes an hour; the short one, with its seeds fixed, a few seconds.
inline bool whole() { return std::getenv("PACKHOUSE_FAULTS") != nullptr; }

/// A project that is planned at once, with one of everything.
inline project::Project small() {
  project::Project p;
  p.about.name.say(std::string("small"));
  p.cell.rated_capacity.say(100.0);
  p.cell.dc_resistance.say(1.0);
  p.bus.power.say(500.0);
  p.layout.series.say(4.0);
  p.layout.packs.say(1.0);
  for (int i = 0; i < 5; ++i) {
    project::Cell cell;
    cell.label = "c" + std::to_string(i);
    cell.capacity_Ah = 100.0 + i;
    cell.u_Ah = 0.5;
    p.cells.push_back(cell);
  }
  p.offers.push_back({"one", 42.5, 5, 30.0, 0.0, 2.7, 19.0, 0.0, 100.0, true});
  std::string log = "time_s,voltage_V,current_A\n";
  for (int i = 0; i < 4000; ++i) log += fmt::format("{},3.{:03},0\n", i, i * 7 % 1000);
  p.logs.push_back({"x.csv", log});
  p.signatures.push_back({"lay-up/seen", "somebody", "2026-01-01", {}, "seen"});
  return p;
}

/// A step that may be signed without a reading.
inline std::string step_to_sign() {
  const project::Project p = small();
  for (const works::WorkList& list : works::work_lists(p, works::plan(p)))
    for (const works::WorkStep& step : list.steps)
      if (!step.expected) return step.id;
  return "";
}

struct Ran {
  int code = -1;  ///< -9: killed
  std::string err;
};

/// Runs `packhouse WORDS` in a folder with these settings of the fault library.
inline Ran run(const std::string& words, const fs::path& where,
               const std::map<std::string, std::string>& fault = {}) {
  const support::Folder scratch;
  std::string settings = "SOURCE_DATE_EPOCH=1772323200 ";
  if (!fault.empty()) settings += "LD_PRELOAD=" FAULT_LIBRARY " ";
  for (const auto& [name, value] : fault) settings += name + "=" + value + " ";
  const std::string err = (scratch / "err").string();
  const std::string line = fmt::format("cd '{}' && exec env {} '{}' {} >/dev/null 2>'{}'",
                                       where.string(), settings, PACKHOUSE_COMMAND, words, err);
  const int status = std::system(line.c_str());
  Ran ran;
  ran.code = WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  if (ran.code == 137) ran.code = -9;
  ran.err = support::read(err);
  return ran;
}

inline std::map<std::string, std::string> all_files(const fs::path& folder) {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::recursive_directory_iterator(folder))
    if (entry.is_regular_file())
      files[fs::relative(entry.path(), folder).string()] = support::read(entry.path());
  return files;
}

inline std::string leftovers(const fs::path& folder) {
  std::string found;
  for (const auto& [name, bytes] : all_files(folder))
    if (name.find(".part-") != std::string::npos || name.ends_with("-journal")) found += name + " ";
  return found;
}

/// One command, and how its success and its failure look.
struct Operation {
  const char* name;
  std::string words;
  project::Project before = small(), after = small();  ///< what c.packhouse holds
  int version = store::schema_version();               ///< of c.packhouse at the start
};

inline std::vector<Operation> operations() {
  std::vector<Operation> all;
  const std::string step = step_to_sign();
  project::Project signed_once = small();
  signed_once.signatures.push_back({step, "w", "2026-02-01", {}, "seen"});
  const std::string sign =
      fmt::format("sign c.packhouse {} --by w --on 2026-02-01 --note seen", step);
  all.push_back({"sign", sign, small(), signed_once});
  project::Project old = small();
  project::Project old_signed = signed_once;
  for (project::Project* p : {&old, &old_signed}) p->signatures.front().note.clear();
  all.push_back({"sign, upgrading", sign, old, old_signed, 3});
  all.push_back({"import", "import text new.packhouse"});
  all.push_back({"new", "new new.packhouse --capacity-Ah 100 --resistance-mOhm 1 --power-W 500"});
  all.push_back({"export", "export c.packhouse out"});
  all.push_back({"backup", "backup c.packhouse --out stick"});
  project::Project restored = small();
  restored.about.name.say(std::string("backed up"));
  all.push_back({"restore", "restore c.packhouse --from b.packhouse", small(), restored});
  all.push_back({"book", "book c.packhouse --out out"});
  all.push_back({"labels", "labels c.packhouse --out labels.pdf"});
  all.push_back({"simulate", "simulate c.packhouse --profile day.csv --series out.csv"});
  return all;
}

/// A folder with everything that the operations need.
inline void set_up(const Operation& o, const fs::path& folder) {
  store::write_old_version(o.before, folder / "c.packhouse", o.version);
  project::Project backed_up = small();
  backed_up.about.name.say(std::string("backed up"));
  store::write_project(backed_up, folder / "b.packhouse");
  support::write(folder / "day.csv", "time_s,power_W\n0,100\n3600,0\n");
  support::write(folder / "text/project.toml",
                 "[project]\nname = \"t\"\n[cell]\nrated_capacity_Ah = 100\ndc_resistance_mOhm = "
                 "1\n[bus]\npower_W = 500\n");
  support::write(folder / "text/logs/x.csv", small().logs[0].bytes);
}

/// A project of the operation's is before or after, and every other file is as a run without faults
/// leaves it, or not there; a folder has all of its files, or none.
inline void expect_old_or_new(const Operation& o, const fs::path& folder,
                              const std::map<std::string, std::string>& start,
                              const std::map<std::string, std::string>& end, bool done,
                              const std::string& at) {
  const project::Project now = store::read_project(folder / "c.packhouse");
  EXPECT_TRUE(now == o.after || (!done && now == o.before))
      << at << (done ? ": said done, and is not" : ": neither old nor new");
  std::map<std::string, int> there, missing;
  const auto files = all_files(folder);
  for (const auto& [name, bytes] : end) {
    if (start.contains(name) || name.starts_with("c.packhouse")) continue;
    const bool is = files.contains(name);
    (is ? there : missing)[name.substr(0, name.find('/'))] += 1;
    if (!is) continue;
    if (name.ends_with(".packhouse") || name.ends_with(".backup")) {
      EXPECT_NO_THROW((void)store::read_project(folder / name)) << at << ": half of " << name;
    } else {
      EXPECT_TRUE(files.at(name) == bytes) << at << ": half of " << name;
    }
  }
  for (const auto& [name, count] : there) EXPECT_EQ(missing[name], 0) << at << ": part of " << name;
  for (const auto& [name, bytes] : start)
    EXPECT_TRUE(name.starts_with("c.packhouse") ||
                (files.contains(name) && files.at(name) == bytes))
        << at << ": harmed " << name;
}

}  // namespace faults
