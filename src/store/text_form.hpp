// SPDX-License-Identifier: Apache-2.0
// A project as text: project.toml, cells.csv, logs/ and the house's series. Both ways without loss.
#pragma once

#include <filesystem>
#include <map>
#include <string>

#include "project/project.hpp"

namespace store {

/// Path inside the folder to bytes.
using TextForm = std::map<std::string, std::string>;

[[nodiscard]] TextForm to_text(const project::Project& project);
/// Throws InputError with file, line and column. The project is checked as a whole.
[[nodiscard]] project::Project from_text(const TextForm& files);

/// Reads and writes that form in a folder. Writing refuses a folder that already holds a project.
[[nodiscard]] TextForm read_folder(const std::filesystem::path& folder);
void write_folder(const TextForm& files, const std::filesystem::path& folder);

/// A name that may stand as a file in the project's folder: no separators, no leading dot, not
/// reserved.
[[nodiscard]] bool safe_file_name(std::string_view name);

}  // namespace store
