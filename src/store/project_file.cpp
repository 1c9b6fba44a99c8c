// SPDX-License-Identifier: Apache-2.0
#include "store/project_file.hpp"

#include <cerrno>
#include <cstring>
#include <memory>

#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "store/backup.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"

namespace store {
namespace {

using base::InputError;
using project::Project;
namespace fs = std::filesystem;

void create(const Project& project, const fs::path& file, int version) {
  Database db(file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
  // Nobody reads it under this name: it is flushed as a whole before it gets its own.
  db.run("PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF; PRAGMA foreign_keys = ON;");
  db.run("BEGIN IMMEDIATE");
  db.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {};", application_id,
                     version));
  fill_new(db, project, version);
  db.run("COMMIT");
}

void check_file_names(const Project& project) {
  for (const auto* files : {&project.logs, &project.series, &project.photos})
    for (const project::File& f : *files)
      if (!safe_file_name(f.name))
        throw InputError({}, fmt::format("a file named '{}'", f.name), "a plain file name",
                         "rename the file");
}

void write_new(const Project& project, const fs::path& file, int version) {
  project::check(project);
  check_file_names(project);
  if (fs::exists(fs::symlink_status(file)))
    throw InputError({file.string(), 0, 0}, "a file that is there already", "a new name",
                     "choose another name, so that nothing is overwritten");
  for (const char* suffix : {"-wal", "-journal"})
    if (fs::exists(file.string() + suffix))
      throw InputError({file.string() + suffix, 0, 0},
                       "writes of a project of this name that is gone", "a name of its own",
                       "choose another name, or move that file away");
  make_folder(folder_of(file));
  PendingFile pending(file);
  create(project, pending.path(), version);
  pending.commit();
}

void check_there(const fs::path& file) {
  struct ::stat s {};
  if (::stat(file.c_str(), &s) != 0) {
    if (errno != ENOENT && errno != ENOTDIR)
      throw InputError({file.string(), 0, 0}, std::strerror(errno), "a Packhouse project file",
                       "check the disk and the rights to the file");
    throw InputError({file.string(), 0, 0}, "no such file", "a Packhouse project file",
                     "check the name, or make one: packhouse import DIR FILE");
  }
  if (S_ISDIR(s.st_mode))
    throw InputError({file.string(), 0, 0}, "a folder", "a Packhouse project file",
                     "import the folder first: packhouse import DIR FILE");
  if (!S_ISREG(s.st_mode))
    throw InputError({file.string(), 0, 0}, "a device or a pipe", "a Packhouse project file",
                     "name the project's own file");
  if (s.st_size == 0)
    throw InputError({file.string(), 0, 0}, "an empty file", "a Packhouse project file",
                     "take the last backup: packhouse restore FILE; or name another file");
}

/// An older project, brought to today's version in memory.
std::unique_ptr<Database> upgraded_copy(Database& db, int from) {
  auto memory = std::make_unique<Database>(
      db.file(), SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_MEMORY, ":memory:");
  copy_database(db, *memory);
  for (int i = from + 1; i <= schema_version(); ++i) memory->run(schema_step(i));
  return memory;
}

}  // namespace

int examine(Database& db) {
  const fs::path& file = db.file();
  db.run("PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA foreign_keys = ON;");
  if (ask(db, "PRAGMA application_id") != application_id)
    refuse_foreign(file, "a database of another program");
  const auto version = static_cast<int>(ask(db, "PRAGMA user_version"));
  if (version > schema_version())
    throw InputError({file.string(), 0, 0}, fmt::format("a project of version {}", version),
                     fmt::format("version {} or older", schema_version()),
                     "use a newer Packhouse for this file");
  // A log of writes explains a shorter file.
  if (!has_unsaved_log(file) && static_cast<long long>(fs::file_size(file)) !=
                                    ask(db, "PRAGMA page_count") * ask(db, "PRAGMA page_size"))
    refuse_damaged(file, "it is cut short");
  Statement check(db, "PRAGMA quick_check(1)");
  if (!check.step() || check.text(0) != "ok") refuse_damaged(file, "its integrity check failed");
  if (version < 1 || schema_of(db) != expected_schema(version))
    refuse_damaged(file, "its tables are not those of a project");
  return version;
}

Project read_project(const fs::path& named) {
  const fs::path file = fs::is_symlink(named) ? fs::canonical(named) : named;
  check_there(file);
  auto db = open_to_read(file);
  db->run("BEGIN");
  const int version = examine(*db);
  if (version < schema_version()) db = upgraded_copy(*db, version);
  Project project = [&] {
    try {
      return read_all(*db);
    } catch (const InputError& e) {
      if (!e.place().file.empty()) throw;
      refuse_damaged(file, e.found());
    }
  }();
  project::check(project);
  return project;
}

void write_project(const Project& project, const fs::path& file) {
  write_new(project, file, schema_version());
}

bool upgrade_project(const fs::path& file) {
  check_there(file);
  clear_leftovers(file);
  int from = 0;
  {
    const auto db = open_to_read(file);
    from = examine(*db);
    if (from == schema_version()) return false;
    fs::path backup = file;
    backup += fmt::format(".version-{}.backup", from);
    if (!is_whole_project(backup)) copy_checked(*db, backup, Existing::replace);
  }
  const auto db = open_to_write(file);
  db->run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
  db->run("BEGIN IMMEDIATE");
  for (int i = from + 1; i <= schema_version(); ++i) db->run(schema_step(i));
  db->run(fmt::format("PRAGMA user_version = {}", schema_version()));
  db->run("COMMIT");
  return true;
}

void update_project(const Project& before, const Project& after, const fs::path& file,
                    const Request* request, const Stamp& known) {
  project::check(after);
  check_file_names(after);
  check_there(file);
  const auto db = open_to_write(file);
  if (known == Stamp{} || stamp_of(file) != known) {
    if (examine(*db) != schema_version()) refuse_damaged(file, "its version has changed");
  }
  db->run("PRAGMA foreign_keys = ON; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
  db->run("BEGIN IMMEDIATE");
  write_changes(*db, before, after);
  if (request != nullptr) keep_request(*db, *request);
  db->run("COMMIT");
}

std::vector<Request> requests_of(const fs::path& file) {
  const auto db = open_to_read(file);
  return read_requests(*db);
}

Stamp stamp_of(const fs::path& file) {
  struct ::stat s {};
  if (::stat(file.c_str(), &s) != 0) return {};
  return {static_cast<std::uint64_t>(s.st_ino), static_cast<std::int64_t>(s.st_mtim.tv_sec),
          static_cast<std::int64_t>(s.st_mtim.tv_nsec), static_cast<std::int64_t>(s.st_size)};
}

void write_old_version(const Project& project, const fs::path& file, int version) {
  CHECK(version >= 1 && version <= schema_version());
  write_new(project, file, version);
}

}  // namespace store
