// SPDX-License-Identifier: Apache-2.0
#include "store/database.hpp"

#include <cerrno>
#include <cstring>
#include <new>

#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/check.hpp"
#include "base/input_error.hpp"

namespace store {

using base::InputError;
namespace fs = std::filesystem;

void refuse_damaged(const fs::path& file, const std::string& how) {
  throw InputError({file.string(), 0, 0}, "a damaged project file: " + how,
                   "a whole Packhouse project",
                   "take the last backup: packhouse restore FILE; if there is none, copy the file "
                   "away before anything else touches it");
}

void refuse_foreign(const fs::path& file, const std::string& found) {
  throw InputError({file.string(), 0, 0}, found, "a Packhouse project file",
                   "name the project's own file, or make one: packhouse import DIR FILE");
}

namespace {

/// What a person can do about what the disk said.
[[noreturn]] void refuse_disk(const fs::path& file, int code, int system, const std::string& why) {
  std::string found = why, remedy = "check the disk and the rights to the file";
  if (system != 0 && system != ENOENT) found += fmt::format(" ({})", std::strerror(system));
  if (code == SQLITE_FULL || system == ENOSPC || system == EDQUOT || system == EFBIG) {
    found = fmt::format("no room to write ({})", std::strerror(system != 0 ? system : ENOSPC));
    remedy = "make room on the disk, then do it again";
  } else if (code == SQLITE_BUSY || code == SQLITE_LOCKED) {
    remedy = "close the other program that holds it, then do it again";
  } else if (code == SQLITE_READONLY || system == EROFS || system == EACCES) {
    found = system == EROFS ? "a disk that takes no writes" : "a file that may not be written";
    remedy = "copy the project to a disk where you may write, or get the right to the file";
  } else if (system == EMFILE || system == ENFILE) {
    remedy = "close other programs, then do it again";
  }
  throw InputError({file.string(), 0, 0}, found, "a file that can be read and written",
                   remedy + "; nothing was changed");
}

}  // namespace

Database::Database(fs::path file, int flags, const std::string& address) : file_(std::move(file)) {
  const int code =
      sqlite3_open_v2(address.empty() ? file_.c_str() : address.c_str(), &db_, flags, nullptr);
  if (code != SQLITE_OK) {
    const std::string why = db_ ? sqlite3_errmsg(db_) : "out of memory";
    const int system = db_ ? sqlite3_system_errno(db_) : 0;
    sqlite3_close(db_);
    db_ = nullptr;
    if (code == SQLITE_NOMEM) throw std::bad_alloc();
    refuse_disk(file_, code, system, why + " while opening");
  }
  sqlite3_busy_timeout(db_, 5000);
  sqlite3_db_config(db_, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
  sqlite3_db_config(db_, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
  sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
  sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
  sqlite3_limit(db_, SQLITE_LIMIT_ATTACHED, 1);  // VACUUM INTO needs one
}

Database::~Database() { sqlite3_close(db_); }

void Database::run(const std::string& sql) {
  if (sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) fail();
}

void Database::fail() const {
  const int code = sqlite3_errcode(db_);
  const std::string why = sqlite3_errmsg(db_);
  switch (code) {
    case SQLITE_NOMEM:
      throw std::bad_alloc();
    case SQLITE_NOTADB:
      refuse_foreign(file_, "a file that is no project");
    case SQLITE_CORRUPT:
    case SQLITE_FORMAT:
    case SQLITE_CONSTRAINT:
    case SQLITE_MISMATCH:
    case SQLITE_ERROR:
    case SQLITE_TOOBIG:
      refuse_damaged(file_, why);
    case SQLITE_FULL:
    case SQLITE_IOERR:
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
    case SQLITE_PERM:
    case SQLITE_PROTOCOL:
    case SQLITE_NOLFS:
      refuse_disk(file_, code, sqlite3_system_errno(db_), why);
    default:
      throw base::Bug(fmt::format("project file: {} ({})", why, code));
  }
}

Statement::Statement(Database& db, const std::string& sql) : db_(db) {
  if (sqlite3_prepare_v2(db_.handle(), sql.c_str(), -1, &statement_, nullptr) != SQLITE_OK)
    db_.fail();
}
Statement::~Statement() { sqlite3_finalize(statement_); }

bool Statement::step() {
  const int code = sqlite3_step(statement_);
  if (code != SQLITE_ROW && code != SQLITE_DONE) db_.fail();
  return code == SQLITE_ROW;
}
void Statement::bind(int i, const std::string& text) {
  check(sqlite3_bind_text(statement_, i, text.data(), static_cast<int>(text.size()),
                          SQLITE_TRANSIENT));
}
void Statement::bind(int i, double number) { check(sqlite3_bind_double(statement_, i, number)); }
void Statement::bind(int i, long long number) { check(sqlite3_bind_int64(statement_, i, number)); }
void Statement::bind(int i, const std::optional<double>& number) {
  check(number ? sqlite3_bind_double(statement_, i, *number) : sqlite3_bind_null(statement_, i));
}
void Statement::bind_null(int i) { check(sqlite3_bind_null(statement_, i)); }
void Statement::bind_blob(int i, std::string_view bytes) {
  check(sqlite3_bind_blob64(statement_, i, bytes.data(), bytes.size(), SQLITE_TRANSIENT));
}
void Statement::reset() { sqlite3_reset(statement_); }
std::string Statement::bytes(int i) const {
  const void* data = sqlite3_column_blob(statement_, i);
  const int size = sqlite3_column_bytes(statement_, i);
  if (data == nullptr && sqlite3_errcode(db_.handle()) == SQLITE_NOMEM) throw std::bad_alloc();
  return data ? std::string(static_cast<const char*>(data), static_cast<std::size_t>(size))
              : std::string();
}
double Statement::number(int i) const { return sqlite3_column_double(statement_, i); }
long long Statement::whole(int i) const { return sqlite3_column_int64(statement_, i); }
bool Statement::null(int i) const { return sqlite3_column_type(statement_, i) == SQLITE_NULL; }
void Statement::check(int code) const {
  if (code != SQLITE_OK) db_.fail();
}

long long ask(Database& db, const std::string& sql) {
  Statement s(db, sql);
  return s.step() ? s.whole(0) : 0;
}

bool has_unsaved_log(const fs::path& file) {
  fs::path log = file;
  log += "-wal";
  std::error_code none;
  const auto size = fs::file_size(log, none);
  return !none && size > 0;
}

std::unique_ptr<Database> open_as_it_stands(const fs::path& file) {
  std::string uri = "file:";
  for (const char c : fs::absolute(file).string())
    uri += c == '?' || c == '#' || c == '%' ? fmt::format("%{:02X}", static_cast<unsigned char>(c))
                                            : std::string(1, c);
  return std::make_unique<Database>(file, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI,
                                    uri + "?immutable=1");
}

std::unique_ptr<Database> open_to_read(const fs::path& file) {
  if (::access(file.c_str(), R_OK) != 0)
    throw InputError({file.string(), 0, 0}, "a file that may not be read",
                     "a Packhouse project file", "ask for the right to read it");
  const fs::path folder = file.has_parent_path() ? file.parent_path() : fs::path(".");
  const bool writable = ::access(file.c_str(), W_OK) == 0 && ::access(folder.c_str(), W_OK) == 0;
  if (!writable && !has_unsaved_log(file)) return open_as_it_stands(file);
  try {
    auto db =
        std::make_unique<Database>(file, writable ? SQLITE_OPEN_READWRITE : SQLITE_OPEN_READONLY);
    if (sqlite3_exec(db->handle(), "SELECT count(*) FROM sqlite_schema", nullptr, nullptr,
                     nullptr) != SQLITE_OK) {
      const int code = sqlite3_errcode(db->handle());
      const bool disk = code == SQLITE_FULL || code == SQLITE_IOERR || code == SQLITE_CANTOPEN ||
                        code == SQLITE_READONLY;
      // No room for the index of a log of writes: where there is no such log, none is needed.
      if (disk && !has_unsaved_log(file)) return open_as_it_stands(file);
      db->fail();
    }
    db->run("PRAGMA query_only = ON");
    return db;
  } catch (const InputError& e) {
    if (!writable)
      throw InputError({file.string(), 0, 0},
                       "a project with writes beside it that are not in it yet (its -wal file), on "
                       "a disk that takes no writes",
                       "a project that was closed, or a disk that can be written",
                       "copy the file and its -wal to a disk where you may write, and open it "
                       "there");
    throw e;
  }
}

std::unique_ptr<Database> open_to_write(const fs::path& file) {
  struct ::stat s {};
  if (::stat(file.c_str(), &s) == 0 && (s.st_mode & (S_IWUSR | S_IWGRP | S_IWOTH)) == 0)
    throw InputError({file.string(), 0, 0}, "a write-protected file", "a file that may be written",
                     "take the protection off (chmod u+w), or work "
                     "on a copy; nothing was changed");
  return std::make_unique<Database>(file, SQLITE_OPEN_READWRITE);
}

}  // namespace store
