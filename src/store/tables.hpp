// SPDX-License-Identifier: Apache-2.0
// The project file's tables: the schema step by step, a project as rows of them, and back.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "project/project.hpp"
#include "store/database.hpp"

namespace store {

/// How many steps the schema has.
[[nodiscard]] int schema_version();
/// Step `version`, from 1.
[[nodiscard]] const char* schema_step(int version);
/// The text of the tables that stand in a file, and of those that should stand there.
[[nodiscard]] std::string schema_of(Database& db);
[[nodiscard]] std::string expected_schema(int version);

/// Makes the tables of that version and fills them.
void fill_new(Database& db, const project::Project& project, int version);
/// Brings tables that hold `before` to `after`: only rows that differ are written. To be called
/// within a transaction. Throws InputError where a row does not stand there as `before` says.
void write_changes(Database& db, const project::Project& before, const project::Project& after);
/// Everything that the tables of today's version hold. Kept files are checked against their hash.
[[nodiscard]] project::Project read_all(Database& db);

/// A request that a page may send again after a lost answer: kept in the file, so that it is made
/// once even where the program ended in between.
struct Request {
  std::string key, sha256;
};
/// Those that were made, the latest thousands of them.
[[nodiscard]] std::vector<Request> read_requests(Database& db);
void keep_request(Database& db, const Request& request);

}  // namespace store
