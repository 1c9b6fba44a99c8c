// SPDX-License-Identifier: Apache-2.0
// Copies of a project: made whole, opened and checked before they count; kept in turn; put back.
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "store/database.hpp"
#include "store/files.hpp"

namespace store {

/// All that one database holds, into another, page by page.
void copy_database(Database& from, Database& to);
/// A copy that is opened, examined and flushed before it stands under its name.
void copy_checked(Database& from, const std::filesystem::path& copy,
                  Existing existing = Existing::refuse);
/// A whole copy of a project that may be in use, as a new file.
void copy_project(const std::filesystem::path& file, const std::filesystem::path& copy);
/// Whether the file is there and holds a whole project of whatever version.
[[nodiscard]] bool is_whole_project(const std::filesystem::path& file);

/// How many are kept: the last ones, one a day, one a month.
struct Keeping {
  std::size_t last = 10, days = 14, months = 24;
};
struct Backup {
  std::filesystem::path file;
  std::string when;  ///< "2026-11-28 091500" as its name says, universal time
  std::uintmax_t bytes = 0;
};

/// Where backups go that were not told where: "FILE.backups".
[[nodiscard]] std::filesystem::path backup_folder(const std::filesystem::path& file);
/// Those of this project in a folder, the newest first.
[[nodiscard]] std::vector<Backup> backups_of(const std::filesystem::path& file,
                                             const std::filesystem::path& folder);
/// Makes one and lets the surplus go. `now_s`: seconds since 1970, universal time.
Backup back_up(const std::filesystem::path& file, const std::filesystem::path& folder,
               std::int64_t now_s, const Keeping& keeping = {});
/// Makes one where none is of today; a project that has not been written since the last one needs
/// none.
std::optional<Backup> back_up_daily(const std::filesystem::path& file, std::int64_t now_s);

/// Puts a backup in the project's place. What stood there is kept, whole or damaged, under the name
/// that is returned (empty: nothing stood there). The caller holds the file.
std::filesystem::path restore_project(const std::filesystem::path& backup,
                                      const std::filesystem::path& file, std::int64_t now_s);

}  // namespace store
