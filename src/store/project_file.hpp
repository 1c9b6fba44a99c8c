// SPDX-License-Identifier: Apache-2.0
// The project file: one SQLite database, strict tables, versioned. Inputs only; nothing that can be
// worked out again is stored. Files are kept compressed beside their SHA-256 and checked on
// reading. Who writes holds the file (store/in_use.hpp) from before it reads.
#pragma once

#include <cstdint>
#include <filesystem>

#include "project/project.hpp"
#include "store/tables.hpp"

namespace store {

inline constexpr int application_id = 0x504B4853;  // "PKHS"

/// Reads a project; nothing is written, whatever version the file has. Throws InputError for a file
/// that is empty, not ours, newer than us, or damaged.
[[nodiscard]] project::Project read_project(const std::filesystem::path& file);

/// Writes a project as a new file that appears whole or not at all, and takes no other's place.
void write_project(const project::Project& project, const std::filesystem::path& file);

/// Brings an older file to today's version, after a copy of it was put beside it
/// (FILE.version-N.backup), opened and checked. True where there was something to do. The caller
/// holds the file.
bool upgrade_project(const std::filesystem::path& file);

/// What tells whether a file is the one that was read: another one when somebody else wrote.
struct Stamp {
  std::uint64_t node = 0;
  std::int64_t seconds = 0, nanoseconds = 0, bytes = 0;
  friend bool operator==(const Stamp&, const Stamp&) = default;
};
[[nodiscard]] Stamp stamp_of(const std::filesystem::path& file);

/// Brings a file that holds `before` to `after`, in one transaction that is on disk on return. Only
/// rows that differ are written. `request`: kept with it in the same transaction. The file is
/// examined first but where it bears the stamp `known`. Throws InputError as the others do; then
/// the file is as it was. The caller holds the file.
void update_project(const project::Project& before, const project::Project& after,
                    const std::filesystem::path& file, const Request* request = nullptr,
                    const Stamp& known = {});

/// Looks at application, version, integrity and the schema's exact text; the version. Throws
/// InputError for anything else than a whole project.
[[nodiscard]] int examine(Database& db);

/// The requests that were made in a file of today's version.
[[nodiscard]] std::vector<Request> requests_of(const std::filesystem::path& file);

/// A file of an older version, for the tests of upgrading: the first `version` steps of the schema.
void write_old_version(const project::Project& project, const std::filesystem::path& file,
                       int version);

}  // namespace store
