// SPDX-License-Identifier: Apache-2.0
#include "store/files.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/evp.h>
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
  if (error == ENOSPC || error == EDQUOT) remedy = "make room on the disk, or choose another one";
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

void flush_to_disk(const fs::path& path, int flags) {
  Descriptor d{::open(path.c_str(), flags | O_CLOEXEC)};
  if (d.fd < 0 || ::fsync(d.fd) != 0) refuse(path, "writing to disk", errno);
}

}  // namespace

void read_blocks(const fs::path& path, const std::function<void(std::string_view)>& on_block) {
  Descriptor d{::open(path.c_str(), O_RDONLY | O_CLOEXEC)};
  if (d.fd < 0) refuse(path, "opening", errno);
  std::string block(1 << 20, '\0');
  for (;;) {
    const ssize_t n = ::read(d.fd, block.data(), block.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) refuse(path, "reading", errno);
    if (n == 0) return;
    on_block(std::string_view(block.data(), static_cast<std::size_t>(n)));
  }
}

std::string read_file(const fs::path& path) {
  std::string bytes;
  read_blocks(path, [&](std::string_view block) { bytes.append(block); });
  return bytes;
}

void write_file(const fs::path& path, std::string_view bytes) {
  StreamedFile file(path);
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
    if (entry.is_regular_file()) names.push_back(entry.path().filename().string());
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

PendingFile::PendingFile(fs::path target) : target_(std::move(target)) {
  temporary_ = target_;
  temporary_ += ".part-" + std::to_string(::getpid());
}

PendingFile::~PendingFile() {
  if (committed_) return;
  std::error_code ignored;
  fs::remove(temporary_, ignored);
}

void PendingFile::commit() {
  flush_to_disk(temporary_, O_RDONLY);
  if (::rename(temporary_.c_str(), target_.c_str()) != 0)
    refuse(target_, "putting the file in its place", errno);
  committed_ = true;
  const fs::path folder = target_.has_parent_path() ? target_.parent_path() : fs::path(".");
  flush_to_disk(folder, O_RDONLY | O_DIRECTORY);
}

StreamedFile::StreamedFile(const fs::path& target) : target_(target), pending_(target) {
  descriptor_ = ::open(pending_.path().c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
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
  ::close(descriptor_);
  descriptor_ = -1;
  pending_.commit();
}

}  // namespace store
