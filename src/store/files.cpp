// SPDX-License-Identifier: Apache-2.0
#include "store/files.hpp"

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <charconv>
#include <cstdio>
#include <cstring>
#include <utility>

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/evp.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/check.hpp"
#include "base/input_error.hpp"

namespace store {
namespace {

using base::InputError;
namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& path, std::string_view doing, int error) {
  std::string remedy = "check the name and the folder";
  if (error == EACCES || error == EPERM || error == EROFS)
    remedy = "choose a folder where you may write, or ask for the right to it";
  if (error == ENOSPC || error == EDQUOT || error == EFBIG)
    remedy = "make room on the disk, or choose another one";
  if (error == EMFILE || error == ENFILE) remedy = "close other programs, then do it again";
  throw InputError({path.string(), 0, 0},
                   std::string(std::strerror(error)) + " while " + std::string(doing),
                   "a file that can be used there", remedy);
}

/// Closes a file descriptor at the end of its scope.
struct Descriptor {
  int fd = -1;
  ~Descriptor() {
    if (fd >= 0) ::close(fd);
  }
};

/// Opens to read what may be read whole: a plain file or a pipe.
int open_to_read_bytes(const fs::path& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOCTTY);
  if (fd < 0) refuse(path, "opening", errno);
  struct ::stat s {};
  const char* other = nullptr;
  if (::fstat(fd, &s) != 0) {
    const int error = errno;
    ::close(fd);
    refuse(path, "opening", error);
  }
  if (S_ISDIR(s.st_mode)) other = "a folder";
  if (S_ISBLK(s.st_mode) || S_ISCHR(s.st_mode)) other = "a device";
  if (other != nullptr) {
    ::close(fd);
    throw InputError({path.string(), 0, 0}, other, "a file", "name a plain file");
  }
  return fd;
}

constexpr std::string_view part_mark = ".part-";

/// "FILE.part-123-4": this process's own, never the same twice.
fs::path part_beside(const fs::path& target) {
  static std::atomic<unsigned> next = 0;
  fs::path part = target;
  part += fmt::format("{}{}-{}", part_mark, ::getpid(), ++next);
  return part;
}

/// Asks for no memory where it is a file: there may be none left.
void remove_with_siblings(const fs::path& path) noexcept {
  std::array<char, 4200> name{};
  for (const char* suffix : {"", "-wal", "-shm", "-journal"}) {
    const int length = std::snprintf(name.data(), name.size(), "%s%s", path.c_str(), suffix);
    if (length > 0 && static_cast<std::size_t>(length) < name.size()) ::unlink(name.data());
  }
  try {
    std::error_code ignored;
    fs::remove_all(path, ignored);  // a folder
  } catch (...) {
    return;  // no memory for it: the next start takes it away
  }
}

/// A path without a last slash, so that its sister can be named.
fs::path plain(fs::path path) {
  if (!path.has_filename() && path.has_parent_path()) path = path.parent_path();
  return path;
}

bool same_bytes(const fs::path& path, std::string_view bytes) {
  std::error_code none;
  if (!fs::is_regular_file(fs::symlink_status(path, none)) ||
      fs::file_size(path, none) != bytes.size())
    return false;
  return read_file(path) == bytes;
}

/// What must never be written over, whatever was said.
void refuse_to_replace(const fs::path& path) {
  std::error_code none;
  const auto status = fs::symlink_status(path, none);
  if (!fs::exists(status)) return;
  if (!fs::is_regular_file(status))
    throw InputError({path.string(), 0, 0}, "something there that is no plain file",
                     "a new name, or a file that may be replaced", "choose another name");
  if (is_database(path))
    throw InputError({path.string(), 0, 0}, "a project, or another database",
                     "a name for an output",
                     "choose another name: a project is never written over");
}

[[noreturn]] void refuse_existing(const fs::path& path) {
  throw InputError({path.string(), 0, 0}, "a file that is there already", "a new name",
                   "choose another name, or say --overwrite where the command has it");
}

}  // namespace

fs::path folder_of(const fs::path& path) {
  return path.has_parent_path() ? path.parent_path() : fs::path(".");
}

void flush_to_disk(const fs::path& path) {
  Descriptor d{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
  if (d.fd < 0 || ::fsync(d.fd) != 0) refuse(path, "writing to disk", errno);
}

void put_in_place(const fs::path& from, const fs::path& to, Existing existing) {
  if (existing == Existing::replace) {
    refuse_to_replace(to);
    if (::rename(from.c_str(), to.c_str()) != 0) refuse(to, "putting the file in its place", errno);
  } else if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) != 0) {
    if (errno == EEXIST) refuse_existing(to);
    if (errno != EINVAL && errno != ENOSYS) refuse(to, "putting the file in its place", errno);
    // A disk that knows no such rename: a second name, which takes nobody's place either.
    if (fs::is_directory(from)) {
      if (fs::exists(to)) refuse_existing(to);
      if (::rename(from.c_str(), to.c_str()) != 0)
        refuse(to, "putting the folder in its place", errno);
    } else if (::link(from.c_str(), to.c_str()) != 0) {
      if (errno == EEXIST) refuse_existing(to);
      if (errno != EPERM && errno != ENOTSUP) refuse(to, "putting the file in its place", errno);
      if (fs::exists(fs::symlink_status(to))) refuse_existing(to);
      if (::rename(from.c_str(), to.c_str()) != 0)
        refuse(to, "putting the file in its place", errno);
    } else {
      ::unlink(from.c_str());
    }
  }
  flush_to_disk(folder_of(to));
}

void clear_leftovers(const fs::path& target) noexcept {
  try {
    const fs::path whole = plain(target);
    const std::string start = whole.filename().string();
    std::error_code error;
    std::vector<fs::path> dead;
    for (const auto& entry : fs::directory_iterator(folder_of(whole), error)) {
      const std::string name = entry.path().filename().string();
      // "FILE.part-…", and "FILE 2026-… .backup.part-…" as copies of it are called.
      const std::size_t mark = name.find(part_mark, std::min(start.size(), name.size()));
      if (!name.starts_with(start) || mark == std::string::npos ||
          (name[start.size()] != '.' && name[start.size()] != ' '))
        continue;
      int process = 0;
      const char* digits = name.data() + mark + part_mark.size();
      const auto [end, bad] = std::from_chars(digits, name.data() + name.size(), process);
      if (bad != std::errc() || process <= 0 || *end != '-') continue;
      if (::kill(process, 0) != 0 && errno == ESRCH) dead.push_back(entry.path());
    }
    for (const fs::path& path : dead) fs::remove_all(path, error);
  } catch (...) {
    return;  // tidying is no reason to refuse the work
  }
}

bool is_database(const fs::path& file) {
  constexpr std::string_view magic = "SQLite format 3";
  std::array<char, magic.size()> start{};
  const Descriptor d{::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY)};
  return d.fd >= 0 && ::read(d.fd, start.data(), start.size()) == ssize_t(start.size()) &&
         std::string_view(start.data(), start.size()) == magic;
}

void read_blocks(const fs::path& path, const std::function<void(std::string_view)>& on_block) {
  const Descriptor d{open_to_read_bytes(path)};
  std::string block(1 << 20, '\0');
  for (;;) {
    const ssize_t n = ::read(d.fd, block.data(), block.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) refuse(path, "reading", errno);
    if (n == 0) return;
    on_block(std::string_view(block.data(), static_cast<std::size_t>(n)));
  }
}

std::string read_file(const fs::path& path, std::uintmax_t most) {
  std::string bytes;
  read_blocks(path, [&](std::string_view block) {
    if (bytes.size() + block.size() > most)
      throw InputError({path.string(), 0, 0}, fmt::format("more than {} MB", most >> 20),
                       fmt::format("a file of at most {} MB", most >> 20),
                       "take the part out that is needed");
    bytes.append(block);
  });
  return bytes;
}

void write_file(const fs::path& path, std::string_view bytes, Existing existing) {
  if (same_bytes(path, bytes)) return;
  StreamedFile file(path, existing);
  file.append(bytes);
  file.commit();
}

void make_folder(const fs::path& path) {
  std::error_code error;
  fs::create_directories(path, error);
  if (error) refuse(path, "making the folder", error.value());
  if (!fs::is_directory(path)) refuse(path, "making the folder", ENOTDIR);
  if (::access(path.c_str(), W_OK) != 0) refuse(path, "writing into the folder", errno);
}

std::vector<std::string> file_names(const fs::path& folder) {
  std::vector<std::string> names;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator(folder, error))
    if (entry.is_regular_file(error) && !entry.is_symlink(error))
      names.push_back(entry.path().filename().string());
  if (error) refuse(folder, "listing", error.value());
  std::sort(names.begin(), names.end());
  return names;
}

Sha256::Sha256() : context_(EVP_MD_CTX_new(), EVP_MD_CTX_free) {
  CHECK(context_ && EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr) == 1);
}

void Sha256::add(std::string_view bytes) {
  CHECK(EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()) == 1);
}

std::string Sha256::hex() {
  std::array<unsigned char, 32> digest{};
  CHECK(EVP_DigestFinal_ex(context_.get(), digest.data(), nullptr) == 1);
  std::string text;
  for (const unsigned char byte : digest) text += fmt::format("{:02x}", byte);
  return text;
}

std::string sha256(std::string_view bytes) {
  Sha256 hash;
  hash.add(bytes);
  return hash.hex();
}

PendingFile::PendingFile(fs::path target, Existing existing)
    : target_(std::move(target)), temporary_(part_beside(target_)), existing_(existing) {
  clear_leftovers(target_);
}

PendingFile::~PendingFile() {
  if (!committed_) remove_with_siblings(temporary_);
}

void PendingFile::commit() {
  flush_to_disk(temporary_);
  put_in_place(temporary_, target_, existing_);
  committed_ = true;
}

StreamedFile::StreamedFile(const fs::path& target, Existing existing)
    : target_(target), pending_(target, existing) {
  std::error_code none;
  if (existing == Existing::replace)
    refuse_to_replace(target);
  else if (fs::exists(fs::symlink_status(target, none)))
    refuse_existing(target);
  descriptor_ = ::open(pending_.path().c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
  if (descriptor_ < 0) refuse(target_, "writing", errno);
}

StreamedFile::~StreamedFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

void StreamedFile::append(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t n = ::write(descriptor_, bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) refuse(target_, "writing", errno);
    bytes.remove_prefix(static_cast<std::size_t>(n));
  }
}

void StreamedFile::commit() {
  const int descriptor = std::exchange(descriptor_, -1);
  if (::close(descriptor) != 0) refuse(target_, "writing", errno);
  pending_.commit();
}

ScratchFile::ScratchFile(const std::string& name) {
  std::string folder = (fs::temp_directory_path() / "packhouse-XXXXXX").string();
  if (::mkdtemp(folder.data()) == nullptr) refuse(folder, "making a folder", errno);
  path_ = fs::path(folder) / name;
}

ScratchFile::~ScratchFile() {
  try {
    std::error_code ignored;
    fs::remove_all(path_.parent_path(), ignored);
  } catch (...) {
    return;  // no memory for it: the system clears its temporary files
  }
}

PendingFolder::PendingFolder(fs::path target, Existing existing)
    : target_(plain(std::move(target))), temporary_(part_beside(target_)), existing_(existing) {
  make_folder(folder_of(target_));
  std::error_code none;
  if (fs::exists(target_, none) && !fs::is_directory(target_, none))
    refuse(target_, "making the folder", ENOTDIR);
  clear_leftovers(target_);
  make_folder(temporary_);
}

PendingFolder::~PendingFolder() {
  if (!committed_) remove_with_siblings(temporary_);
}

void PendingFolder::add(const std::string& name, std::string_view bytes) {
  make_folder(folder_of(temporary_ / name));
  write_file(temporary_ / name, bytes);
  names_.push_back(name);
}

void PendingFolder::commit() {
  std::error_code none;
  const auto status = fs::symlink_status(target_, none);
  if (!fs::exists(status)) {
    put_in_place(temporary_, target_, Existing::refuse);
    committed_ = true;
    return;
  }
  if (fs::is_directory(status) && fs::is_empty(target_, none) && !none) {
    if (::rename(temporary_.c_str(), target_.c_str()) != 0)  // an empty folder gives way
      refuse(target_, "putting the folder in its place", errno);
    committed_ = true;
    flush_to_disk(folder_of(target_));
    return;
  }
  std::vector<fs::path> placed;
  std::vector<std::string> to_place;
  for (const std::string& name : names_) {
    const fs::path there = target_ / name;
    if (same_bytes(there, read_file(temporary_ / name))) continue;
    if (existing_ == Existing::replace)
      refuse_to_replace(there);
    else if (fs::exists(fs::symlink_status(there, none)))
      refuse_existing(there);
    to_place.push_back(name);
  }
  try {
    for (const std::string& name : to_place) {
      const bool fresh = !fs::exists(target_ / name);
      make_folder(folder_of(target_ / name));
      put_in_place(temporary_ / name, target_ / name, existing_);
      if (fresh) placed.push_back(target_ / name);
    }
  } catch (...) {
    for (const fs::path& path : placed) fs::remove(path, none);
    throw;
  }
}

}  // namespace store
