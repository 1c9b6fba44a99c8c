// SPDX-License-Identifier: Apache-2.0
#include "store/tables.hpp"

#include <array>
#include <map>
#include <set>
#include <variant>

#include <fmt/format.h>
#include <sqlite3.h>
#include <zstd.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"

namespace store {
namespace {

using base::InputError;
using project::Project;

// The schema, one step a version. A step that was released is never changed; new needs add a step.
constexpr std::array<const char*, 7> schema_steps = {
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
    "NULL REFERENCES content (sha256)) STRICT;",
    // 7: requests that were made, so that one sent again is made once.
    "CREATE TABLE request (position INTEGER PRIMARY KEY, key TEXT NOT NULL UNIQUE, sha256 TEXT NOT "
    "NULL) STRICT;"};

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

// --- a project as rows
// -----------------------------------------------------------------------------------------

using Value = std::variant<std::monostate, double, long long, std::string>;
using Row = std::vector<Value>;

Value value_of(const std::optional<double>& x) { return x ? Value(*x) : Value(); }
template <class Whole>
Value whole(Whole x) {
  return static_cast<long long>(x);
}

struct Column {
  const char* name;
  int since;  ///< the version that brought it
};

/// One table whose rows are told apart by their first column.
struct Table {
  const char* name;
  int since;
  std::vector<Column> columns;
  std::vector<Row> (*rows)(const Project&);
  std::vector<project::File> Project::*files = nullptr;  ///< of a table of kept files
};

std::vector<Row> setting_rows(const Project& project) {
  std::vector<Row> rows;
  const auto add = [&](const std::string& path, const project::Value& value) {
    if (const double* number = std::get_if<double>(&value))
      rows.push_back({path, *number, {}});
    else
      rows.push_back({path, {}, std::get<std::string>(value)});
  };
  for (const project::Row* row : project::catalogue())
    if (const auto& said = at(project, *row).said()) add(row->path(), *said);
  for (const auto& [path, value] : project.unknown) add(path, value);
  return rows;
}

std::vector<Row> cell_rows(const Project& project) {
  std::vector<Row> rows;
  for (const project::Cell& c : project.cells)
    rows.push_back({whole(rows.size() + 1), c.label, c.lot, value_of(c.voltage_V),
                    value_of(c.ac_resistance_mOhm), value_of(c.mass_kg), value_of(c.thickness_mm),
                    c.note, value_of(c.capacity_Ah), value_of(c.u_Ah), value_of(c.resistance_mOhm),
                    value_of(c.leak_mA), c.made});
  return rows;
}

std::vector<Row> offer_rows(const Project& project) {
  std::vector<Row> rows;
  for (const project::Offer& o : project.offers)
    rows.push_back({whole(rows.size() + 1), o.name, o.unit_price, whole(o.quantity), o.freight,
                    o.insurance, o.duty_percent, o.vat_percent, o.fees, o.rated_capacity_Ah,
                    whole(o.chosen), o.nominal_V, o.rated_cycles, o.shelf_years,
                    o.round_trip_percent, o.depth_percent});
  return rows;
}

std::vector<Row> signature_rows(const Project& project) {
  std::vector<Row> rows;
  for (const project::Signature& s : project.signatures)
    rows.push_back({whole(rows.size() + 1), s.what, s.by, s.on, value_of(s.value), s.note});
  return rows;
}

std::vector<Row> file_rows(const std::vector<project::File>& files) {
  std::vector<Row> rows;
  for (const project::File& f : files)
    rows.push_back({whole(rows.size() + 1), f.name, sha256(f.bytes)});
  return rows;
}

const std::vector<Table>& tables() {
  static const std::vector<Column> file = {{"position", 1}, {"name", 1}, {"sha256", 1}};
  static const std::vector<Table> all = {
      {"setting", 1, {{"path", 1}, {"number", 1}, {"text", 1}}, setting_rows},
      {"cell",
       1,
       {{"position", 1},
        {"label", 1},
        {"lot", 1},
        {"voltage_V", 1},
        {"ac_resistance_mOhm", 1},
        {"mass_kg", 1},
        {"thickness_mm", 1},
        {"note", 1},
        {"capacity_Ah", 1},
        {"u_Ah", 1},
        {"resistance_mOhm", 1},
        {"leak_mA", 1},
        {"made", 3}},
       cell_rows},
      {"offer",
       1,
       {{"position", 1},
        {"name", 1},
        {"unit_price", 1},
        {"quantity", 1},
        {"freight", 1},
        {"insurance", 1},
        {"duty_percent", 1},
        {"vat_percent", 1},
        {"fees", 1},
        {"rated_capacity_Ah", 1},
        {"chosen", 1},
        {"nominal_V", 5},
        {"rated_cycles", 5},
        {"shelf_years", 5},
        {"round_trip_percent", 5},
        {"depth_percent", 5}},
       offer_rows},
      {"signature",
       2,
       {{"position", 2}, {"what", 2}, {"by_whom", 2}, {"on_day", 2}, {"value", 4}, {"note", 4}},
       signature_rows},
      {"log", 1, file, [](const Project& p) { return file_rows(p.logs); }, &Project::logs},
      {"series", 2, file, [](const Project& p) { return file_rows(p.series); }, &Project::series},
      {"photo", 6, file, [](const Project& p) { return file_rows(p.photos); }, &Project::photos}};
  return all;
}

// --- writing
// -----------------------------------------------------------------------------------------

void bind(Statement& s, int i, const Value& value) {
  std::visit(
      [&](const auto& v) {
        if constexpr (std::is_same_v<std::decay_t<decltype(v)>, std::monostate>)
          s.bind_null(i);
        else
          s.bind(i, v);
      },
      value);
}

void insert_rows(Database& db, const Table& table, const std::vector<const Row*>& rows,
                 int version) {
  if (rows.empty()) return;
  std::string names, marks;
  for (const Column& c : table.columns)
    if (c.since <= version) names += (names.empty() ? "" : ", ") + std::string(c.name);
  for (const Column& c : table.columns)
    if (c.since <= version) marks += marks.empty() ? "?" : ", ?";
  Statement s(db, fmt::format("INSERT INTO {} ({}) VALUES ({})", table.name, names, marks));
  for (const Row* row : rows) {
    int at = 0;
    for (std::size_t i = 0; i < table.columns.size(); ++i)
      if (table.columns[i].since <= version) bind(s, ++at, (*row)[i]);
    s.step();
    s.reset();
  }
}

/// Deletes a row only as it is known; somebody else's is not written over.
void delete_rows(Database& db, const Table& table, const std::vector<const Row*>& rows) {
  if (rows.empty()) return;
  std::string where;
  for (const Column& c : table.columns)
    where += fmt::format("{}{} IS ?", where.empty() ? "" : " AND ", c.name);
  Statement s(db, fmt::format("DELETE FROM {} WHERE {}", table.name, where));
  for (const Row* row : rows) {
    int at = 0;
    for (const Value& value : *row) bind(s, ++at, value);
    s.step();
    s.reset();
    if (sqlite3_changes(db.handle()) != 1)
      throw InputError({db.file().string(), 0, 0},
                       fmt::format("a change by another program, in the table '{}'", table.name),
                       "the project as it was read", "open it again, and make the change anew");
  }
}

void put_contents(Database& db, const std::vector<project::File>& files,
                  const std::set<std::string>& wanted) {
  Statement there(db, "SELECT count(*) FROM content WHERE sha256 = ?");
  Statement content(db, "INSERT INTO content VALUES (?, ?, ?)");
  std::set<std::string> done;
  for (const project::File& f : files) {
    const std::string hash = sha256(f.bytes);
    if (!wanted.contains(hash) || !done.insert(hash).second) continue;
    there.bind(1, hash);
    const bool known = there.step() && there.whole(0) != 0;
    there.reset();
    if (known) continue;
    content.bind_blob(3, compress(f.bytes));
    content.insert(hash, static_cast<long long>(f.bytes.size()));
  }
}

/// Keeps those contents that new rows of logs, series and photos name.
void put_new_contents(Database& db, const Project& project, const std::set<std::string>& wanted) {
  if (wanted.empty()) return;
  for (const auto* files : {&project.logs, &project.series, &project.photos})
    put_contents(db, *files, wanted);
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

}  // namespace

int schema_version() { return static_cast<int>(schema_steps.size()); }

const char* schema_step(int version) {
  CHECK(version >= 1 && version <= schema_version());
  return schema_steps[static_cast<std::size_t>(version - 1)];
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
  for (int i = 0; i < version; ++i) memory.run(schema_step(i + 1));
  return schema_of(memory);
}

void fill_new(Database& db, const Project& project, int version) {
  for (int i = 1; i <= version; ++i) db.run(schema_step(i));
  for (const auto& [files, since] : {std::pair{&project.logs, 1}, std::pair{&project.series, 2},
                                     std::pair{&project.photos, 6}}) {
    std::set<std::string> wanted;
    if (since > version) continue;
    for (const project::File& f : *files) wanted.insert(sha256(f.bytes));
    put_contents(db, *files, wanted);
  }
  for (const Table& table : tables()) {
    if (table.since > version) continue;
    const std::vector<Row> rows = table.rows(project);
    std::vector<const Row*> all;
    for (const Row& row : rows) all.push_back(&row);
    insert_rows(db, table, all, version);
  }
}

void write_changes(Database& db, const Project& before, const Project& after) {
  struct Difference {
    const Table* table;
    std::vector<Row> old_rows, new_rows;
    std::vector<const Row*> gone, come;
  };
  std::vector<Difference> differences;
  std::set<std::string> wanted;
  for (const Table& table : tables()) {
    if (table.files != nullptr && before.*table.files == after.*table.files) continue;
    Difference& d = differences.emplace_back();
    d.table = &table;
    d.old_rows = table.rows(before);
    d.new_rows = table.rows(after);
    std::map<Value, const Row*> old_by_key;
    for (const Row& row : d.old_rows) old_by_key[row.front()] = &row;
    for (const Row& row : d.new_rows) {
      const auto old = old_by_key.find(row.front());
      const bool same = old != old_by_key.end() && *old->second == row;
      if (!same) d.come.push_back(&row);
      if (!same && old != old_by_key.end()) d.gone.push_back(old->second);
      if (old != old_by_key.end()) old_by_key.erase(old);
      if (!same && table.files != nullptr) wanted.insert(std::get<std::string>(row.back()));
    }
    for (const auto& [key, row] : old_by_key) d.gone.push_back(row);
  }
  put_new_contents(db, after, wanted);
  bool files_went = false;
  for (const Difference& d : differences) {
    delete_rows(db, *d.table, d.gone);
    insert_rows(db, *d.table, d.come, schema_version());
    files_went = files_went || (!d.gone.empty() && d.table->files != nullptr);
  }
  if (files_went)
    db.run(
        "DELETE FROM content WHERE sha256 NOT IN (SELECT sha256 FROM log UNION SELECT sha256 FROM "
        "series UNION SELECT sha256 FROM photo)");
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

std::vector<Request> read_requests(Database& db) {
  std::vector<Request> requests;
  Statement s(db, "SELECT key, sha256 FROM request ORDER BY position");
  while (s.step()) requests.push_back({s.text(0), s.text(1)});
  return requests;
}

void keep_request(Database& db, const Request& request) {
  constexpr long long most = 5000;
  Statement row(db, "INSERT INTO request (key, sha256) VALUES (?, ?)");
  row.insert(request.key, request.sha256);
  Statement old(db,
                "DELETE FROM request WHERE position <= (SELECT max(position) FROM request) - ?");
  old.insert(most);
}

}  // namespace store
