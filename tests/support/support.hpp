// SPDX-License-Identifier: Apache-2.0
// What the tests share: running the command, a folder of their own, the open data where it is
// there.
#pragma once

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

#include <sys/wait.h>
#include <unistd.h>

#include "base/json.hpp"

namespace support {

namespace fs = std::filesystem;

inline std::string read(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

inline void write(const fs::path& path, const std::string& bytes) {
  fs::create_directories(path.parent_path());
  std::ofstream(path, std::ios::binary) << bytes;
}

/// A new folder that goes away with the test.
class Folder {
 public:
  Folder() {
    std::string name = (fs::temp_directory_path() / "packhouse-test-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  ~Folder() {
    std::error_code ignored;
    fs::permissions(path_, fs::perms::owner_all, ignored);
    fs::remove_all(path_, ignored);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] fs::path operator/(const std::string& name) const { return path_ / name; }
  [[nodiscard]] const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

struct Ran {
  int code = -1;
  std::string out, err;
  [[nodiscard]] base::Json json() const { return base::Json::parse(out); }
};

/// Runs `packhouse WORDS` through the shell, in a folder of choice.
inline Ran packhouse(const std::string& words, const fs::path& where = fs::temp_directory_path()) {
  Folder scratch;
  const std::string err = (scratch / "err").string();
  const std::string command =
      "cd '" + where.string() + "' && '" PACKHOUSE_COMMAND "' " + words + " 2>'" + err + "'";
  Ran ran;
  FILE* pipe = ::popen(command.c_str(), "r");
  char block[4096];
  for (std::size_t n = 0; (n = std::fread(block, 1, sizeof block, pipe)) > 0;)
    ran.out.append(block, n);
  const int status = ::pclose(pipe);
  ran.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
  ran.err = read(err);
  return ran;
}

/// The open measurement data beside the project, or an empty path; its files are never part of the
/// project.
inline fs::path open_data(const std::string& name) {
  const fs::path path = fs::path(SOURCE_ROOT).parent_path() / "shared" / "data" / name;
  return fs::exists(path) ? path : fs::path();
}

}  // namespace support

/// Skips a test where the open data is absent, and says so.
#define NEEDS_OPEN_DATA(path) \
  if ((path).empty()) GTEST_SKIP() << "the open data is not beside this checkout (../shared/data)"
