// SPDX-License-Identifier: Apache-2.0
#include "store/in_use.hpp"

#include <cstring>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/input_error.hpp"

namespace store {

InUse::InUse(const std::filesystem::path& file, const std::string& what) : beside_(file) {
  beside_ += ".in-use";
  for (int attempt = 0; attempt < 3; ++attempt) {
    descriptor_ = ::open(beside_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    if (descriptor_ < 0) return;  // a folder without the right to write: writing will say so itself
    if (::flock(descriptor_, LOCK_EX | LOCK_NB) != 0) {
      char text[400] = {};
      const ssize_t n = ::read(descriptor_, text, sizeof text - 1);
      ::close(descriptor_);
      descriptor_ = -1;
      throw base::InputError(
          {file.string(), 0, 0},
          fmt::format("in use by {}", n > 0 ? std::string(text, static_cast<std::size_t>(n))
                                            : std::string("another program")),
          "a project that nobody else writes",
          "use the page that is open, or end the other program; nothing was changed");
    }
    // Whoever held it before may have taken the name away between our opening and our holding.
    struct ::stat held {
    }, named{};
    if (::fstat(descriptor_, &held) == 0 && ::stat(beside_.c_str(), &named) == 0 &&
        held.st_ino == named.st_ino)
      break;
    ::close(descriptor_);
    descriptor_ = -1;
  }
  if (descriptor_ < 0) return;
  const std::string text = fmt::format("{} (process {})", what, ::getpid());
  if (::ftruncate(descriptor_, 0) != 0 ||
      ::write(descriptor_, text.data(), text.size()) != static_cast<ssize_t>(text.size()))
    return;  // the lock holds all the same; only its words are missing
}

InUse::~InUse() {
  if (descriptor_ < 0) return;
  ::unlink(beside_.c_str());
  ::close(descriptor_);
}

}  // namespace store
