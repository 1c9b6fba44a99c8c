// SPDX-License-Identifier: Apache-2.0
#include "store/project_file.hpp"

#include <array>
#include <fstream>
#include <memory>
#include <optional>

#include <fmt/format.h>
#include <sqlite3.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zstd.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "store/files.hpp"
#include "store/in_use.hpp"
#include "store/text_form.hpp"

namespace store {
namespace {

using base::InputError;
using project::Project;
namespace fs = std::filesystem;

// The schema, one step a version. A step that was released is never changed; new needs add a step.
constexpr std::array<const char*, 6> schema_steps = {
    // 1: settings, the lot, offers, logs.
    "CREATE TABLE setting (path TEXT PRIMARY KEY, number REAL, text TEXT, CHECK ((number IS NULL) "
    "<> (text IS NULL))) STRICT, WITHOUT ROWID;"
    "CREATE TABLE cell (position INTEGER PRIMARY KEY, label TEXT NOT NULL UNIQUE, lot TEXT NOT "
    "NULL, voltage_V REAL, ac_resistance_mOhm REAL, mass_kg REAL,"
    " thickness_mm REAL, note TEXT NOT NULL, capacity_Ah REAL, u_Ah REAL, resistance_mOhm REAL, "
    "leak_mA REAL) STRICT;"
    "CREATE TABLE offer (position INTEGER PRIMARY KEY, name TEXT NOT NULL, unit_price REAL NOT "
    "NULL, quantity INTEGER NOT NULL, freight REAL NOT NULL,"
    " insurance REAL NOT NULL, duty_percent REAL NOT NULL, vat_percent REAL NOT NULL, fees REAL "
    "NOT NULL, rated_capacity_Ah REAL NOT NULL, chosen INTEGER NOT NULL) STRICT;"
    "CREATE TABLE content (sha256 TEXT PRIMARY KEY, bytes INTEGER NOT NULL, zstd BLOB NOT NULL) "
    "STRICT;"
    "CREATE TABLE log (position INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, sha256 TEXT NOT "
    "NULL REFERENCES content (sha256)) STRICT;",
    // 2: the house's series, and what was signed.
    "CREATE TABLE series (position INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, sha256 TEXT NOT "
    "NULL REFERENCES content (sha256)) STRICT;"
    "CREATE TABLE signature (position INTEGER PRIMARY KEY, what TEXT NOT NULL, by_whom TEXT NOT "
    "NULL, on_day TEXT NOT NULL) STRICT;",
    // 3: when a cell was made.
    "ALTER TABLE cell ADD COLUMN made TEXT NOT NULL DEFAULT '';",
    // 4: what was read at a signed step, and what was to be said of it.
    "ALTER TABLE signature ADD COLUMN value REAL;"
    "ALTER TABLE signature ADD COLUMN note TEXT NOT NULL DEFAULT '';",
    // 5: what an offer's cells are, where they differ from the project's.
    "ALTER TABLE offer ADD COLUMN nominal_V REAL NOT NULL DEFAULT 0;"
    "ALTER TABLE offer ADD COLUMN rated_cycles REAL NOT NULL DEFAULT 0;"
    "ALTER TABLE offer ADD COLUMN shelf_years REAL NOT NULL DEFAULT 0;"
    "ALTER TABLE offer ADD COLUMN round_trip_percent REAL NOT NULL DEFAULT 0;"
    "ALTER TABLE offer ADD COLUMN depth_percent REAL NOT NULL DEFAULT 0;",
    // 6: photos of cells.
    "CREATE TABLE photo (position INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, sha256 TEXT NOT "
    "NULL REFERENCES content (sha256)) STRICT;"};

[[noreturn]] void refuse_damaged(const fs::path& file, const std::string& how) {
  throw InputError(
      {file.string(), 0, 0}, "a damaged project file: " + how, "a whole Packhouse project",
      "take the last backup; if there is none, copy the file away before anything else touches it");
}

[[noreturn]] void refuse_foreign(const fs::path& file, const std::string& found) {
  throw InputError({file.string(), 0, 0}, found, "a Packhouse project file",
                   "name the project's own file, or make one: packhouse import DIR FILE");
}

/// One database connection; every failure names the file.
class Database {
 public:
  Database(fs::path file, int flags) : file_(std::move(file)) {
    const int code = sqlite3_open_v2(file_.c_str(), &db_, flags, nullptr);
    if (code != SQLITE_OK) {
      const std::string why = db_ ? sqlite3_errmsg(db_) : "out of memory";
      sqlite3_close(db_);
      db_ = nullptr;
      throw InputError({file_.string(), 0, 0}, why + " while opening", "a file that can be opened",
                       "check the name, the folder and the rights to them");
    }
    sqlite3_busy_timeout(db_, 5000);
    sqlite3_db_config(db_, SQLITE_DBCONFIG_DEFENSIVE, 1, nullptr);
    sqlite3_db_config(db_, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, nullptr);
    sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_TRIGGER, 0, nullptr);
    sqlite3_db_config(db_, SQLITE_DBCONFIG_ENABLE_VIEW, 0, nullptr);
    sqlite3_limit(db_, SQLITE_LIMIT_ATTACHED, 1);  // VACUUM INTO needs one
  }
  ~Database() { sqlite3_close(db_); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;

  void run(const std::string& sql) {
    if (sqlite3_exec(db_, sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) fail();
  }
  [[noreturn]] void fail() const {
    const int code = sqlite3_errcode(db_);
    const std::string why = sqlite3_errmsg(db_);
    if (code == SQLITE_NOTADB) refuse_foreign(file_, "a file that is no project");
    if (code == SQLITE_CORRUPT || code == SQLITE_FORMAT) refuse_damaged(file_, why);
    if (code == SQLITE_FULL || code == SQLITE_IOERR || code == SQLITE_READONLY ||
        code == SQLITE_CANTOPEN || code == SQLITE_BUSY || code == SQLITE_LOCKED)
      throw InputError({file_.string(), 0, 0}, why, "a file that can be read and written",
                       "make room, get the right to the file, or close the other program that "
                       "holds it; nothing was changed");
    if (code == SQLITE_CONSTRAINT || code == SQLITE_MISMATCH || code == SQLITE_ERROR)
      refuse_damaged(file_, why);
    throw base::Bug("project file: " + why);
  }
  [[nodiscard]] sqlite3* handle() const { return db_; }
  [[nodiscard]] const fs::path& file() const { return file_; }

 private:
  fs::path file_;
  sqlite3* db_ = nullptr;
};

class Statement {
 public:
  Statement(Database& db, const std::string& sql) : db_(db) {
    if (sqlite3_prepare_v2(db_.handle(), sql.c_str(), -1, &statement_, nullptr) != SQLITE_OK)
      db_.fail();
  }
  ~Statement() { sqlite3_finalize(statement_); }
  Statement(const Statement&) = delete;
  Statement& operator=(const Statement&) = delete;

  bool step() {
    const int code = sqlite3_step(statement_);
    if (code != SQLITE_ROW && code != SQLITE_DONE) db_.fail();
    return code == SQLITE_ROW;
  }
  void bind(int i, const std::string& text) {
    check(sqlite3_bind_text(statement_, i, text.data(), static_cast<int>(text.size()),
                            SQLITE_TRANSIENT));
  }
  void bind(int i, double number) { check(sqlite3_bind_double(statement_, i, number)); }
  void bind(int i, long long number) { check(sqlite3_bind_int64(statement_, i, number)); }
  void bind(int i, const std::optional<double>& number) {
    check(number ? sqlite3_bind_double(statement_, i, *number) : sqlite3_bind_null(statement_, i));
  }
  void bind_blob(int i, std::string_view bytes) {
    check(sqlite3_bind_blob64(statement_, i, bytes.data(), bytes.size(), SQLITE_TRANSIENT));
  }
  template <class... Values>
  void insert(const Values&... values) {
    int i = 0;
    (bind(++i, values), ...);
    step();
    sqlite3_reset(statement_);
  }
  [[nodiscard]] std::string text(int i) const { return bytes(i); }
  [[nodiscard]] std::string bytes(int i) const {
    const void* data = sqlite3_column_blob(statement_, i);
    const int size = sqlite3_column_bytes(statement_, i);
    return data ? std::string(static_cast<const char*>(data), static_cast<std::size_t>(size))
                : std::string();
  }
  [[nodiscard]] double number(int i) const { return sqlite3_column_double(statement_, i); }
  [[nodiscard]] long long whole(int i) const { return sqlite3_column_int64(statement_, i); }
  [[nodiscard]] bool null(int i) const { return sqlite3_column_type(statement_, i) == SQLITE_NULL; }
  [[nodiscard]] std::optional<double> maybe(int i) const {
    return null(i) ? std::nullopt : std::optional(number(i));
  }

 private:
  void check(int code) const {
    if (code != SQLITE_OK) db_.fail();
  }
  Database& db_;
  sqlite3_stmt* statement_ = nullptr;
};

long long ask(Database& db, const std::string& sql) {
  Statement s(db, sql);
  return s.step() ? s.whole(0) : 0;
}

std::string schema_of(Database& db) {
  Statement s(
      db,
      "SELECT coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY name");
  std::string text;
  while (s.step()) text += s.text(0) + '\n';
  return text;
}

std::string expected_schema(int version) {
  Database memory(":memory:", SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_MEMORY);
  for (int i = 0; i < version; ++i) memory.run(schema_steps[static_cast<std::size_t>(i)]);
  return schema_of(memory);
}

std::string compress(std::string_view bytes) {
  std::string result(ZSTD_compressBound(bytes.size()), '\0');
  const std::size_t size =
      ZSTD_compress(result.data(), result.size(), bytes.data(), bytes.size(), 6);
  CHECK(!ZSTD_isError(size));
  result.resize(size);
  return result;
}

std::string uncompress(const Database& db, const std::string& packed, long long size,
                       const std::string& hash) {
  constexpr long long largest = 8LL << 30;
  const unsigned long long stated = ZSTD_getFrameContentSize(packed.data(), packed.size());
  if (size < 0 || size > largest || stated != static_cast<unsigned long long>(size))
    refuse_damaged(db.file(), "a kept file has the wrong size");
  std::string result(static_cast<std::size_t>(size), '\0');
  const std::size_t got =
      ZSTD_decompress(result.data(), result.size(), packed.data(), packed.size());
  if (ZSTD_isError(got) || got != result.size() || sha256(result) != hash)
    refuse_damaged(db.file(), "a kept file does not match its SHA-256");
  return result;
}

// --- writing
// -----------------------------------------------------------------------------------------

void write_files(Database& db, const std::string& table, const std::vector<project::File>& files) {
  Statement content(db, "INSERT INTO content VALUES (?, ?, ?)");
  Statement row(db, "INSERT INTO " + table + " VALUES (?, ?, ?)");
  long long position = 0;
  for (const project::File& f : files) {
    const std::string hash = sha256(f.bytes);
    Statement there(db, "SELECT count(*) FROM content WHERE sha256 = ?");
    there.bind(1, hash);
    if (there.step() && there.whole(0) == 0) {
      content.bind_blob(3, compress(f.bytes));
      content.insert(hash, static_cast<long long>(f.bytes.size()));
    }
    row.insert(++position, f.name, hash);
  }
}

/// Kept files; `before`: what the tables hold already.
void fill_files(Database& db, const Project& project, int version, const Project* before) {
  const auto write = [&](const std::string& table, std::vector<project::File> Project::*files) {
    if (before != nullptr && before->*files == project.*files) return;
    if (before != nullptr) db.run("DELETE FROM " + table);
    write_files(db, table, project.*files);
  };
  write("log", &Project::logs);
  if (version >= 2) write("series", &Project::series);
  if (version >= 6) write("photo", &Project::photos);
}

void fill(Database& db, const Project& project, int version) {
  Statement number_row(db, "INSERT INTO setting (path, number) VALUES (?, ?)");
  Statement text_row(db, "INSERT INTO setting (path, text) VALUES (?, ?)");
  const auto insert = [&](const std::string& path, const project::Value& value) {
    if (const double* number = std::get_if<double>(&value))
      number_row.insert(path, *number);
    else
      text_row.insert(path, std::get<std::string>(value));
  };
  for (const project::Row* row : project::catalogue())
    if (const auto& said = at(project, *row).said()) insert(row->path(), *said);
  for (const auto& [path, value] : project.unknown) insert(path, value);
  Statement cell(
      db,
      "INSERT INTO cell (position, label, lot, voltage_V, ac_resistance_mOhm, mass_kg, thickness_mm, note, capacity_Ah, u_Ah, resistance_mOhm, leak_mA) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)");
  long long position = 0;
  for (const project::Cell& c : project.cells)
    cell.insert(++position, c.label, c.lot, c.voltage_V, c.ac_resistance_mOhm, c.mass_kg,
                c.thickness_mm, c.note, c.capacity_Ah, c.u_Ah, c.resistance_mOhm, c.leak_mA);
  Statement offer(db,
                  "INSERT INTO offer (position, name, unit_price, quantity, freight, insurance, "
                  "duty_percent, vat_percent, fees, rated_capacity_Ah, chosen) VALUES (?, ?, ?, ?, "
                  "?, ?, ?, ?, ?, ?, ?)");
  position = 0;
  for (const project::Offer& o : project.offers)
    offer.insert(++position, o.name, o.unit_price, static_cast<long long>(o.quantity), o.freight,
                 o.insurance, o.duty_percent, o.vat_percent, o.fees, o.rated_capacity_Ah,
                 static_cast<long long>(o.chosen));
  if (version >= 3) {
    Statement made(db, "UPDATE cell SET made = ? WHERE label = ?");
    for (const project::Cell& c : project.cells)
      if (!c.made.empty()) made.insert(c.made, c.label);
  }
  if (version < 2) return;
  Statement signature(
      db, "INSERT INTO signature (position, what, by_whom, on_day) VALUES (?, ?, ?, ?)");
  position = 0;
  for (const project::Signature& s : project.signatures)
    signature.insert(++position, s.what, s.by, s.on);
  if (version < 4) return;
  Statement said(db, "UPDATE signature SET value = ?, note = ? WHERE position = ?");
  position = 0;
  for (const project::Signature& s : project.signatures) said.insert(s.value, s.note, ++position);
  if (version < 5) return;
  Statement kind(db,
                 "UPDATE offer SET nominal_V = ?, rated_cycles = ?, shelf_years = ?, "
                 "round_trip_percent = ?, depth_percent = ? WHERE position = ?");
  position = 0;
  for (const project::Offer& o : project.offers)
    kind.insert(o.nominal_V, o.rated_cycles, o.shelf_years, o.round_trip_percent, o.depth_percent,
                ++position);
}

void create(const Project& project, const fs::path& file, int version) {
  Database db(file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
  db.run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;");
  db.run("BEGIN IMMEDIATE");
  for (int i = 0; i < version; ++i) db.run(schema_steps[static_cast<std::size_t>(i)]);
  db.run(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {};", application_id,
                     version));
  fill(db, project, version);
  fill_files(db, project, version, nullptr);
  db.run("COMMIT");
  db.run("PRAGMA wal_checkpoint(TRUNCATE)");
}

void check_file_names(const Project& project) {
  for (const auto* files : {&project.logs, &project.series, &project.photos})
    for (const project::File& f : *files)
      if (!safe_file_name(f.name))
        throw InputError({}, fmt::format("a file named '{}'", f.name), "a plain file name",
                         "rename the file");
}

void write_new(const Project& project, const fs::path& file, bool replace, int version) {
  project::check(project);
  check_file_names(project);
  std::optional<InUse> in_use;
  if (replace) in_use.emplace(file, "a command that writes it");
  if (!replace && fs::exists(file))
    throw InputError({file.string(), 0, 0}, "a file that is there already", "a new name",
                     "choose another name, so that nothing is overwritten");
  const fs::path folder = file.has_parent_path() ? file.parent_path() : fs::path(".");
  make_folder(folder);
  PendingFile pending(file);
  std::error_code ignored;
  fs::remove(pending.path(), ignored);
  create(project, pending.path(), version);
  for (const char* suffix :
       {"-wal", "-shm"}) {  // of the file that is replaced: they belong to the old content
    fs::path stale = file;
    stale += suffix;
    fs::remove(stale, ignored);
  }
  pending.commit();
}

// --- reading
// -----------------------------------------------------------------------------------------

std::vector<project::File> read_files(Database& db, const std::string& table) {
  std::vector<project::File> files;
  Statement s(db, "SELECT t.name, t.sha256, c.bytes, c.zstd FROM " + table +
                      " t JOIN content c USING (sha256) ORDER BY t.position");
  while (s.step()) {
    if (!safe_file_name(s.text(0)))
      refuse_damaged(db.file(), "a kept file has a name that is none");
    files.push_back({s.text(0), uncompress(db, s.bytes(3), s.whole(2), s.text(1))});
  }
  if (static_cast<long long>(files.size()) != ask(db, "SELECT count(*) FROM " + table))
    refuse_damaged(db.file(), "a kept file is missing");
  return files;
}

Project read_all(Database& db) {
  Project p;
  Statement settings(db, "SELECT path, number, text FROM setting ORDER BY path");
  while (settings.step()) {
    project::take(
        p, settings.text(0),
        settings.null(1) ? project::Value(settings.text(2)) : project::Value(settings.number(1)));
  }
  Statement cells(db,
                  "SELECT label, lot, voltage_V, ac_resistance_mOhm, mass_kg, thickness_mm, note, "
                  "capacity_Ah, u_Ah, resistance_mOhm, leak_mA, made FROM cell ORDER BY position");
  while (cells.step())
    p.cells.push_back({cells.text(0), cells.text(1), cells.maybe(2), cells.maybe(3), cells.maybe(4),
                       cells.maybe(5), cells.text(6), cells.maybe(7), cells.maybe(8),
                       cells.maybe(9), cells.maybe(10), cells.text(11)});
  Statement offers(db,
                   "SELECT name, unit_price, quantity, freight, insurance, duty_percent, "
                   "vat_percent, fees, rated_capacity_Ah, chosen, nominal_V, rated_cycles, "
                   "shelf_years, round_trip_percent, depth_percent FROM offer ORDER BY position");
  while (offers.step())
    p.offers.push_back({offers.text(0), offers.number(1), static_cast<int>(offers.whole(2)),
                        offers.number(3), offers.number(4), offers.number(5), offers.number(6),
                        offers.number(7), offers.number(8), offers.whole(9) != 0, offers.number(10),
                        offers.number(11), offers.number(12), offers.number(13),
                        offers.number(14)});
  p.logs = read_files(db, "log");
  p.series = read_files(db, "series");
  p.photos = read_files(db, "photo");
  Statement signatures(
      db, "SELECT what, by_whom, on_day, value, note FROM signature ORDER BY position");
  while (signatures.step())
    p.signatures.push_back({signatures.text(0), signatures.text(1), signatures.text(2),
                            signatures.maybe(3), signatures.text(4)});
  return p;
}

/// Opens for reading. Where the file may be written, the connection can tidy up behind itself; on a
/// read-only medium it is taken as it stands.
std::unique_ptr<Database> open_for_reading(const fs::path& file) {
  const fs::path folder = file.has_parent_path() ? file.parent_path() : fs::path(".");
  if (::access(file.c_str(), W_OK) == 0 && ::access(folder.c_str(), W_OK) == 0) {
    auto db = std::make_unique<Database>(file, SQLITE_OPEN_READWRITE);
    db->run("PRAGMA query_only = ON");
    return db;
  }
  if (::access(file.c_str(), R_OK) != 0)
    throw InputError({file.string(), 0, 0}, "a file that may not be read",
                     "a Packhouse project file", "ask for the right to read it");
  std::string uri = "file:";
  for (const char c : fs::absolute(file).string())
    uri += c == '?' || c == '#' || c == '%' ? fmt::format("%{:02X}", static_cast<unsigned char>(c))
                                            : std::string(1, c);
  return std::make_unique<Database>(uri + "?immutable=1", SQLITE_OPEN_READONLY | SQLITE_OPEN_URI);
}

/// Application, version, integrity, then the schema's exact text: only then is the content looked
/// at.
int examine(Database& db, const fs::path& file) {
  db.run("PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0; PRAGMA foreign_keys = ON;");
  if (ask(db, "PRAGMA application_id") != application_id)
    refuse_foreign(db.file(), "a database of another program");
  const auto version = static_cast<int>(ask(db, "PRAGMA user_version"));
  if (version > schema_version())
    throw InputError({db.file().string(), 0, 0}, fmt::format("a project of version {}", version),
                     fmt::format("version {} or older", schema_version()),
                     "use a newer Packhouse for this file");
  fs::path log = file;
  log += "-wal";
  std::error_code ignored;
  const bool pending = fs::exists(log) &&
                       fs::file_size(log, ignored) > 0;  // a log of writes explains a shorter file
  if (!pending && static_cast<long long>(fs::file_size(file)) !=
                      ask(db, "PRAGMA page_count") * ask(db, "PRAGMA page_size"))
    refuse_damaged(file, "it is cut short");
  Statement check(db, "PRAGMA quick_check(1)");
  if (!check.step() || check.text(0) != "ok")
    refuse_damaged(db.file(), "its integrity check failed");
  if (version < 1 || schema_of(db) != expected_schema(version))
    refuse_damaged(db.file(), "its tables are not those of a project");
  return version;
}

void upgrade(const fs::path& file, int from) {
  fs::path backup = file;
  backup += fmt::format(".version-{}.backup", from);
  Database db(file, SQLITE_OPEN_READWRITE);
  if (!fs::exists(backup)) {
    Statement copy(db, "VACUUM INTO ?");
    copy.bind(1, backup.string());
    copy.step();
  }
  db.run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
  db.run("BEGIN IMMEDIATE");
  for (int i = from; i < schema_version(); ++i) db.run(schema_steps[static_cast<std::size_t>(i)]);
  db.run(fmt::format("PRAGMA user_version = {}", schema_version()));
  db.run("COMMIT");
  db.run("PRAGMA wal_checkpoint(TRUNCATE)");
}

}  // namespace

bool is_database(const fs::path& file) {
  constexpr std::string_view magic = "SQLite format 3";
  std::string start(magic.size(), ' ');
  std::ifstream in(file, std::ios::binary);
  return in.read(start.data(), static_cast<std::streamsize>(start.size())) && start == magic;
}

int schema_version() { return static_cast<int>(schema_steps.size()); }

Project read_project(const fs::path& file) {
  if (!fs::exists(file))
    throw InputError({file.string(), 0, 0}, "no such file", "a Packhouse project file",
                     "check the name, or make one: packhouse import DIR FILE");
  if (fs::is_directory(file))
    throw InputError({file.string(), 0, 0}, "a folder", "a Packhouse project file",
                     "import the folder first: packhouse import DIR FILE");
  int version = 0;
  {
    const auto db = open_for_reading(file);
    version = examine(*db, file);
  }
  if (version < schema_version()) upgrade(file, version);
  const auto opened = open_for_reading(file);
  Database& db = *opened;
  db.run("BEGIN");
  Project project = [&] {
    try {
      return read_all(db);
    } catch (const InputError& e) {
      if (!e.place().file.empty()) throw;
      refuse_damaged(file, e.found());
    }
  }();
  db.run("COMMIT");
  project::check(project);
  return project;
}

void write_project(const Project& project, const fs::path& file, bool replace) {
  write_new(project, file, replace, schema_version());
}

void update_project(const Project& before, const Project& after, const fs::path& file) {
  project::check(after);
  check_file_names(after);
  Database db(file, SQLITE_OPEN_READWRITE);
  if (examine(db, file) != schema_version()) refuse_damaged(file, "its version has changed");
  db.run("PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;");
  db.run("BEGIN IMMEDIATE");
  db.run("DELETE FROM setting; DELETE FROM cell; DELETE FROM offer; DELETE FROM signature;");
  fill(db, after, schema_version());
  fill_files(db, after, schema_version(), &before);
  db.run(
      "DELETE FROM content WHERE sha256 NOT IN (SELECT sha256 FROM log UNION SELECT sha256 FROM "
      "series UNION SELECT sha256 FROM photo)");
  db.run("COMMIT");
}

Stamp stamp_of(const fs::path& file) {
  struct ::stat s {};
  if (::stat(file.c_str(), &s) != 0) return {};
  return {static_cast<std::uint64_t>(s.st_ino), static_cast<std::int64_t>(s.st_mtim.tv_sec),
          static_cast<std::int64_t>(s.st_mtim.tv_nsec), static_cast<std::int64_t>(s.st_size)};
}

void copy_project(const fs::path& file, const fs::path& copy) {
  const auto db = open_for_reading(file);
  Statement into(*db, "VACUUM INTO ?");
  into.bind(1, copy.string());
  into.step();
}

void write_old_version(const Project& project, const fs::path& file, int version) {
  CHECK(version >= 1 && version <= schema_version());
  write_new(project, file, false, version);
}

}  // namespace store
