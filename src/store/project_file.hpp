// SPDX-License-Identifier: Apache-2.0
// The project file: one SQLite database, strict tables, versioned. Inputs only; nothing that can be
// worked out again is stored. Files are kept compressed beside their SHA-256 and checked on
// reading.
#pragma once

#include <cstdint>
#include <filesystem>

#include "project/project.hpp"

namespace store {

inline constexpr int application_id = 0x504B4853;  // "PKHS"

/// How many steps the schema has; a new file takes them all, an older one those it lacks.
[[nodiscard]] int schema_version();

/// Reads a project. An older file is upgraded first, after a copy of it was put beside it
/// (FILE.version-N.backup). Throws InputError for a file that is not ours, newer than us, or
/// damaged.
/// Whether the file begins as a database does; false where it cannot be read.
[[nodiscard]] bool is_database(const std::filesystem::path& file);

[[nodiscard]] project::Project read_project(const std::filesystem::path& file);

/// Writes a project as a new file that appears whole or not at all. Refuses to replace a file
/// unless `replace` says so; then the old one stays until the new one is on disk.
void write_project(const project::Project& project, const std::filesystem::path& file,
                   bool replace = false);

/// Brings a file that holds `before` to `after`, in one transaction that is on disk on return. Kept
/// files are written only where they differ. Throws InputError as the others do; then the file is
/// as it was.
void update_project(const project::Project& before, const project::Project& after,
                    const std::filesystem::path& file);

/// What tells whether a file is the one that was read: another one when somebody else wrote.
struct Stamp {
  std::uint64_t node = 0;
  std::int64_t seconds = 0, nanoseconds = 0, bytes = 0;
  friend bool operator==(const Stamp&, const Stamp&) = default;
};
[[nodiscard]] Stamp stamp_of(const std::filesystem::path& file);

/// A whole copy of a project that may be in use, as a new file.
void copy_project(const std::filesystem::path& file, const std::filesystem::path& copy);

/// A file of an older version, for the tests of upgrading: the first `version` steps of the schema.
void write_old_version(const project::Project& project, const std::filesystem::path& file,
                       int version);

}  // namespace store
