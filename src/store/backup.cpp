// SPDX-License-Identifier: Apache-2.0
#include "store/backup.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <set>

#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/stat.h>

#include "base/input_error.hpp"
#include "store/in_use.hpp"
#include "store/project_file.hpp"

namespace store {
namespace {

using base::InputError;
namespace fs = std::filesystem;

constexpr std::string_view ending = ".backup";

/// "2026-11-28 091500", universal time.
std::string stamp_text(std::int64_t now_s) {
  const auto seconds = static_cast<std::time_t>(now_s);
  std::tm t{};
  gmtime_r(&seconds, &t);
  return fmt::format("{:04}-{:02}-{:02} {:02}{:02}{:02}", t.tm_year + 1900, t.tm_mon + 1, t.tm_mday,
                     t.tm_hour, t.tm_min, t.tm_sec);
}

/// A name that nothing bears yet: with -2, -3 … behind it where that is needed.
fs::path free_name(const fs::path& start, std::string_view end) {
  for (int i = 1;; ++i) {
    fs::path path = start;
    path += i == 1 ? std::string(end) : fmt::format("-{}{}", i, end);
    if (!fs::exists(fs::symlink_status(path))) return path;
  }
}

/// The same mode and owner as the file that it stands for, as far as we may.
void dress_as(const fs::path& copy, const fs::path& file) {
  struct ::stat s {};
  if (::stat(file.c_str(), &s) != 0) return;
  (void)!::chown(copy.c_str(), s.st_uid, s.st_gid);
  (void)!::chmod(copy.c_str(), s.st_mode & 07777);
}

void let_surplus_go(const fs::path& file, const fs::path& folder, const Keeping& keeping) {
  std::size_t last = 0;
  std::set<std::string> days, months;
  for (const Backup& b : backups_of(file, folder)) {
    bool keep = last++ < keeping.last;
    if (days.size() < keeping.days && days.insert(b.when.substr(0, 10)).second) keep = true;
    if (months.size() < keeping.months && months.insert(b.when.substr(0, 7)).second) keep = true;
    std::error_code ignored;
    if (!keep) fs::remove(b.file, ignored);
  }
}

}  // namespace

void copy_database(Database& from, Database& to) {
  sqlite3_backup* copy = sqlite3_backup_init(to.handle(), "main", from.handle(), "main");
  if (copy == nullptr) to.fail();
  int code = SQLITE_OK;
  for (int waited = 0; waited < 500; ++waited) {
    code = sqlite3_backup_step(copy, -1);
    if (code != SQLITE_BUSY && code != SQLITE_LOCKED) break;
    sqlite3_sleep(10);
  }
  const int end = sqlite3_backup_finish(copy);
  if (code == SQLITE_DONE && end == SQLITE_OK) return;
  if (sqlite3_errcode(from.handle()) != SQLITE_OK) from.fail();
  to.fail();
}

void copy_checked(Database& from, const fs::path& copy, Existing existing) {
  if (existing == Existing::refuse && fs::exists(fs::symlink_status(copy)))
    throw InputError({copy.string(), 0, 0}, "a file that is there already", "a new name",
                     "choose another name, so that nothing is overwritten");
  make_folder(folder_of(copy));
  PendingFile pending(copy, existing);
  {
    Database to(pending.path(), SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    to.run("PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF;");
    copy_database(from, to);
    // One file that stands alone: no log of writes beside it.
    to.run("PRAGMA journal_mode = DELETE;");
  }
  {
    const auto check = open_as_it_stands(pending.path());
    (void)examine(*check);
  }
  if (existing == Existing::replace && fs::exists(copy) && !is_whole_project(copy)) {
    std::error_code ignored;
    fs::remove(copy, ignored);  // half of an earlier one, by a program that was ended
  }
  pending.commit();
}

void copy_project(const fs::path& file, const fs::path& copy) {
  const auto db = open_to_read(file);
  copy_checked(*db, copy);
}

bool is_whole_project(const fs::path& file) {
  try {
    if (!is_database(file)) return false;
    const auto db = open_to_read(file);
    return examine(*db) > 0;
  } catch (const InputError&) {
    return false;
  }
}

fs::path backup_folder(const fs::path& file) {
  fs::path folder = resolved(file);
  folder += ".backups";
  return folder;
}

std::vector<Backup> backups_of(const fs::path& file, const fs::path& folder) {
  std::vector<Backup> all;
  const std::string start = resolved(file).filename().string() + " ";
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error)) {
    const std::string name = entry.path().filename().string();
    constexpr std::size_t when = 17;  // 2026-11-28 091500
    if (!name.starts_with(start) || !name.ends_with(ending) ||
        name.size() < start.size() + when + ending.size() || !entry.is_regular_file(error))
      continue;
    all.push_back({entry.path(),
                   name.substr(start.size(), name.size() - start.size() - ending.size()),
                   entry.file_size(error)});
  }
  std::sort(all.begin(), all.end(),
            [](const Backup& a, const Backup& b) { return a.when > b.when; });
  return all;
}

Backup back_up(const fs::path& file, const fs::path& folder, std::int64_t now_s,
               const Keeping& keeping) {
  const std::string when = stamp_text(now_s);
  clear_leftovers(folder / resolved(file).filename());
  const fs::path name =
      free_name(folder / fmt::format("{} {}", resolved(file).filename().string(), when), ending);
  copy_project(file, name);
  let_surplus_go(file, folder, keeping);
  return {name, when, fs::file_size(name)};
}

std::optional<Backup> back_up_daily(const fs::path& file, std::int64_t now_s) {
  const fs::path folder = backup_folder(file);
  const auto all = backups_of(file, folder);
  const std::string now = stamp_text(now_s);
  // A clock that was set back makes none a second time for days to come that it knows already.
  if (!all.empty() && all.front().when.substr(0, 10) >= now.substr(0, 10)) return std::nullopt;
  struct ::stat project {
  }, last{};
  if (!all.empty() && ::stat(file.c_str(), &project) == 0 &&
      ::stat(all.front().file.c_str(), &last) == 0 &&
      (project.st_mtim.tv_sec < last.st_mtim.tv_sec) && !has_unsaved_log(file))
    return std::nullopt;
  return back_up(file, folder, now_s);
}

fs::path restore_project(const fs::path& backup, const fs::path& named, std::int64_t now_s) {
  const fs::path file = resolved(named);
  if (fs::exists(file) && fs::equivalent(backup, file))
    throw InputError({backup.string(), 0, 0}, "the project itself", "a backup of it",
                     "name a backup: packhouse restore FILE --list");
  PendingFile pending(file);
  {
    const auto from = open_to_read(backup);
    (void)examine(*from);
    Database to(pending.path(), SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    to.run("PRAGMA journal_mode = MEMORY; PRAGMA synchronous = OFF;");
    copy_database(*from, to);
    to.run("PRAGMA journal_mode = DELETE;");
  }
  (void)examine(*open_as_it_stands(pending.path()));
  flush_to_disk(pending.path());
  fs::path kept;
  const bool there = fs::exists(file);
  if (there) {
    dress_as(pending.path(), file);
    const fs::path start =
        backup_folder(file) /
        fmt::format("{} before restore {}", file.filename().string(), stamp_text(now_s));
    make_folder(start.parent_path());
    kept = free_name(start, ending);
    if (is_whole_project(file)) {
      copy_project(file, kept);
      // Closing the last connection took what was in the log of writes into the file.
    } else {
      // Damaged: its bytes, and what stands beside it, for whoever can read them.
      for (const char* suffix : {"", "-wal", "-journal"})
        if (fs::exists(file.string() + suffix))
          write_file(kept.string() + suffix, read_file(file.string() + suffix, std::uintmax_t(-1)));
    }
  }
  // What stands beside the old content would be taken for writes to the new one.
  std::error_code error;
  for (const char* suffix : {"-wal", "-shm", "-journal"}) {
    fs::remove(file.string() + suffix, error);
    if (error)
      throw InputError({file.string() + suffix, 0, 0}, error.message() + " while removing",
                       "a folder where files can be removed", "remove it by hand, then restore");
  }
  flush_to_disk(folder_of(file));
  if (!there) {
    pending.commit();
    return kept;
  }
  if (::rename(pending.path().c_str(), file.c_str()) != 0)
    throw InputError({file.string(), 0, 0}, std::strerror(errno), "a file that can be replaced",
                     "get the right to the folder; nothing was changed");
  flush_to_disk(folder_of(file));
  return kept;
}

}  // namespace store
