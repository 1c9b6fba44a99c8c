// SPDX-License-Identifier: Apache-2.0
// One connection to a project's database, its statements, and what its failures mean to a person.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

struct sqlite3;
struct sqlite3_stmt;

namespace store {

[[noreturn]] void refuse_damaged(const std::filesystem::path& file, const std::string& how);
[[noreturn]] void refuse_foreign(const std::filesystem::path& file, const std::string& found);

/// A connection with all that an untrusted file may not do switched off. Every failure is an
/// InputError that names the file and the true cause, as the disk gave it.
class Database {
 public:
  /// `address`: what SQLite opens, where that is not the file's own name.
  Database(std::filesystem::path file, int flags, const std::string& address = {});
  ~Database();
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  void run(const std::string& sql);
  [[noreturn]] void fail() const;
  [[nodiscard]] sqlite3* handle() const { return db_; }
  [[nodiscard]] const std::filesystem::path& file() const { return file_; }

 private:
  std::filesystem::path file_;
  sqlite3* db_ = nullptr;
};

class Statement {
 public:
  Statement(Database& db, const std::string& sql);
  ~Statement();
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  bool step();
  void bind(int i, const std::string& text);
  void bind(int i, double number);
  void bind(int i, long long number);
  void bind(int i, const std::optional<double>& number);
  void bind_null(int i);
  void bind_blob(int i, std::string_view bytes);
  template <class... Values>
  void insert(const Values&... values) {
    int i = 0;
    (bind(++i, values), ...);
    step();
    reset();
  }
  void reset();
  [[nodiscard]] std::string text(int i) const { return bytes(i); }
  [[nodiscard]] std::string bytes(int i) const;
  [[nodiscard]] double number(int i) const;
  [[nodiscard]] long long whole(int i) const;
  [[nodiscard]] bool null(int i) const;
  [[nodiscard]] std::optional<double> maybe(int i) const {
    return null(i) ? std::nullopt : std::optional(number(i));
  }

 private:
  void check(int code) const;
  Database& db_;
  sqlite3_stmt* statement_ = nullptr;
};

/// The first number of the first row; 0 where there is none.
[[nodiscard]] long long ask(Database& db, const std::string& sql);

/// Opens to read. Where the file may be written, the connection can tidy up behind itself. Where
/// the disk is full or takes no writes, and no log of writes stands beside the file, it is taken as
/// it stands.
[[nodiscard]] std::unique_ptr<Database> open_to_read(const std::filesystem::path& file);
/// Opens to write. Refuses a file that is write-protected, for whomever: who protected it meant it.
[[nodiscard]] std::unique_ptr<Database> open_to_write(const std::filesystem::path& file);
/// The file as it stands, by nobody written meanwhile: no lock, no log of writes.
[[nodiscard]] std::unique_ptr<Database> open_as_it_stands(const std::filesystem::path& file);

/// The log of writes beside FILE holds something.
[[nodiscard]] bool has_unsaved_log(const std::filesystem::path& file);

}  // namespace store
