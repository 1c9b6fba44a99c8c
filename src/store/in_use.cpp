// SPDX-License-Identifier: Apache-2.0
#include "store/in_use.hpp"

#include <cerrno>
#include <chrono>
#include <fstream>
#include <thread>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include "base/input_error.hpp"

namespace store {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view brief_mark = "\nbrief\n";

/// Who holds a lock on this very file, as the system lists it; empty where it does not say.
std::string holder_of(int descriptor) {
  struct ::stat s {};
  if (::fstat(descriptor, &s) != 0) return "";
  const std::string node =
      fmt::format("{:02x}:{:02x}:{}", major(s.st_dev), minor(s.st_dev), s.st_ino);
  std::ifstream locks("/proc/locks");
  for (std::string line; std::getline(locks, line);) {
    if (line.find("FLOCK") == std::string::npos || line.find(node) == std::string::npos) continue;
    const std::size_t write = line.find("WRITE ");
    if (write != std::string::npos)
      return fmt::format("process {}",
                         line.substr(write + 6, line.find(' ', write + 6) - write - 6));
  }
  return "";
}

[[noreturn]] void refuse(const fs::path& file, const std::string& holder) {
  throw base::InputError(
      {file.string(), 0, 0},
      fmt::format("in use by {}", holder.empty() ? std::string("another program") : holder),
      "a project that nobody else writes",
      "use the page that is open, or end the other program; nothing was changed");
}

}  // namespace

fs::path resolved(const fs::path& file) {
  std::error_code error;
  fs::path full = fs::weakly_canonical(file, error);
  return error ? fs::absolute(file) : full;
}

bool InUse::take_note(std::string& holder, bool& brief) {
  for (int attempt = 0; attempt < 3; ++attempt) {
    note_ = ::open(beside_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (note_ < 0) return true;  // a folder without the right to write: writing will say so itself
    if (::flock(note_, LOCK_EX | LOCK_NB) != 0) {
      char text[400] = {};
      const ssize_t n = errno == EWOULDBLOCK ? ::read(note_, text, sizeof text - 1) : 0;
      ::close(note_);
      note_ = -1;
      holder.assign(text, n > 0 ? static_cast<std::size_t>(n) : 0);
      brief = holder.ends_with(brief_mark) || holder.empty();  // empty: it is writing its note
      if (holder.ends_with(brief_mark)) holder.resize(holder.size() - brief_mark.size());
      return false;
    }
    // Whoever held it before may have taken the name away between our opening and our holding.
    struct ::stat held {
    }, named{};
    if (::fstat(note_, &held) == 0 && ::stat(beside_.c_str(), &named) == 0 &&
        held.st_ino == named.st_ino)
      return true;
    ::close(note_);
    note_ = -1;
  }
  brief = true;
  return false;
}

void InUse::write_note(const std::string& text) const {
  if (note_ < 0) return;
  // The lock holds all the same where its words cannot be written.
  if (::ftruncate(note_, 0) != 0 || ::pwrite(note_, text.data(), text.size(), 0) < 0) return;
}

void InUse::hold_the_file_itself() {
  if (itself_ >= 0) ::close(itself_);
  itself_ = ::open(file_.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
  if (itself_ < 0) return;  // not there yet, or opening it will say why it cannot be read
  if (::flock(itself_, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK) return;
  const std::string holder = holder_of(itself_);
  ::close(itself_);
  itself_ = -1;
  refuse(file_, holder.empty() ? "another program, by another name of the same file"
                               : holder + ", by another name of the same file");
}

InUse::InUse(const fs::path& file, const std::string& what, Stay stay, double patience_s)
    : file_(resolved(file)), beside_(file_) {
  beside_ += ".in-use";
  const auto start = std::chrono::steady_clock::now();
  for (;;) {
    std::string holder;
    bool brief = false;
    if (take_note(holder, brief)) break;
    const std::chrono::duration<double> waited = std::chrono::steady_clock::now() - start;
    if (!brief || waited.count() >= patience_s) refuse(file_, holder);
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  try {
    write_note(fmt::format("{} (process {}){}", what, ::getpid(),
                           stay == Stay::brief ? brief_mark : std::string_view()));
    hold_the_file_itself();
  } catch (...) {
    if (note_ >= 0) ::unlink(beside_.c_str()), ::close(note_);
    throw;
  }
}

InUse::~InUse() {
  if (itself_ >= 0) ::close(itself_);
  if (note_ < 0) return;
  ::unlink(beside_.c_str());
  ::close(note_);
}

}  // namespace store
