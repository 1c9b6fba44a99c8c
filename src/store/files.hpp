// SPDX-License-Identifier: Apache-2.0
// The disk: whole files in, whole files out. A file is written beside its place, flushed and
// renamed, so that nothing is ever half there. What cannot be read or written is an InputError that
// names the file.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

struct evp_md_ctx_st;  // of libcrypto

namespace store {

[[nodiscard]] std::string read_file(const std::filesystem::path& path);
/// Hands the file over in blocks of about a megabyte.
void read_blocks(const std::filesystem::path& path,
                 const std::function<void(std::string_view)>& on_block);
void write_file(const std::filesystem::path& path, std::string_view bytes);
/// Makes the folder and those above it.
void make_folder(const std::filesystem::path& path);
/// Names of the plain files in a folder, sorted.
[[nodiscard]] std::vector<std::string> file_names(const std::filesystem::path& folder);

/// SHA-256 of bytes that come in blocks, as 64 hexadecimal digits.
class Sha256 {
 public:
  Sha256();
  void add(std::string_view bytes);
  [[nodiscard]] std::string hex();

 private:
  std::unique_ptr<evp_md_ctx_st, void (*)(evp_md_ctx_st*)> context_;
};
[[nodiscard]] std::string sha256(std::string_view bytes);

/// Puts the writes of one file in place at once: write to `path()`, then `commit()`; dropped
/// otherwise.
class PendingFile {
 public:
  explicit PendingFile(std::filesystem::path target);
  ~PendingFile();
  PendingFile(const PendingFile&) = delete;
  PendingFile& operator=(const PendingFile&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return temporary_; }
  void commit();

 private:
  std::filesystem::path target_, temporary_;
  bool committed_ = false;
};

/// A file written bit by bit, that stands under its name only once it is whole. Every failure names
/// the file.
class StreamedFile {
 public:
  explicit StreamedFile(const std::filesystem::path& target);
  ~StreamedFile();
  StreamedFile(const StreamedFile&) = delete;
  StreamedFile& operator=(const StreamedFile&) = delete;
  void append(std::string_view bytes);
  void commit();

 private:
  std::filesystem::path target_;
  PendingFile pending_;
  int descriptor_ = -1;
};

}  // namespace store
