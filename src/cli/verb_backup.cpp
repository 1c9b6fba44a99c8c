// SPDX-License-Identifier: Apache-2.0
// Copies of a project that count: made, listed, put back.
#include <algorithm>
#include <filesystem>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "store/backup.hpp"
#include "store/in_use.hpp"
#include "store/project_file.hpp"

namespace cli {
namespace fs = std::filesystem;
using base::InputError;
using base::Json;

void must_be_text(const char* option, const std::string& typed) {
  if (base::to_utf8(typed) != typed)
    throw InputError({}, fmt::format("{} with bytes that are no text", option), "text in UTF-8",
                     "type it in a terminal that is set to UTF-8");
}

void back_up_before_writing(const fs::path& file) {
  try {
    (void)store::back_up_daily(file, now_s());
  } catch (const InputError& e) {
    fmt::print(stderr, "packhouse: today's backup could not be made\n{}\n", e.what());
  }
}

int backup(const BackupOptions& options) {
  const fs::path folder =
      options.out.empty() ? store::backup_folder(options.file) : fs::path(options.out);
  const store::Backup made = store::back_up(options.file, folder, now_s());
  if (options.json)
    print_json(Json{{"backup", made.file.string()}, {"bytes", made.bytes}});
  else
    fmt::print(
        "A whole copy, opened and checked, is in {}.\nTo put it back: packhouse restore {} --from '{}'\n",
        made.file.string(), options.file, made.file.string());
  return 0;
}

int restore(const BackupOptions& options) {
  const fs::path folder =
      options.out.empty() ? store::backup_folder(options.file) : fs::path(options.out);
  const std::vector<store::Backup> all = store::backups_of(options.file, folder);
  if (options.list) {
    Json list = Json::array();
    std::vector<std::vector<std::string>> rows;
    for (const store::Backup& b : all) {
      list.push_back({{"backup", b.file.string()}, {"when", b.when}, {"bytes", b.bytes}});
      rows.push_back({b.when, fmt::format("{}", b.bytes), b.file.string()});
    }
    if (options.json)
      print_json(list);
    else
      fmt::print("{}", table({{"when (UTC)"}, {"bytes", true}, {"file"}}, rows));
    return 0;
  }
  fs::path from = options.from;
  if (from.empty()) {
    const auto whole = std::find_if(all.begin(), all.end(), [](const store::Backup& b) {
      return store::is_whole_project(b.file);
    });
    if (whole == all.end())
      throw InputError({folder.string(), 0, 0}, "no whole backup of this project", "one",
                       "name one: packhouse restore FILE --from BACKUP");
    from = whole->file;
  }
  const store::InUse held(options.file, "packhouse restore", store::InUse::Stay::brief, 600.0);
  const fs::path kept = store::restore_project(from, held.file(), now_s());
  if (options.json)
    print_json(Json{{"file", options.file},
                    {"from", from.string()},
                    {"kept", kept.empty() ? Json(nullptr) : Json(kept.string())}});
  else
    fmt::print("{} is again as in {}.\n{}", options.file, from.string(),
               kept.empty() ? "" : fmt::format("What stood there is kept: {}\n", kept.string()));
  return 0;
}

}  // namespace cli
