// SPDX-License-Identifier: Apache-2.0
// The disk: whole files in, whole files out. A file is written beside its place, flushed and
// renamed, so that nothing is ever half there, and it takes no other file's place unless that was
// said; a project's, never. What cannot be read or written is an InputError that names the file.
#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

struct evp_md_ctx_st;  // of libcrypto

namespace store {

/// The longest file that is taken into memory whole.
inline constexpr std::uintmax_t most_bytes = std::uintmax_t{1} << 30;
/// Reads a plain file or a pipe whole; no folder, no device, nothing longer than `most`.
[[nodiscard]] std::string read_file(const std::filesystem::path& path,
                                    std::uintmax_t most = most_bytes);
/// Hands the file over in blocks of about a megabyte.
void read_blocks(const std::filesystem::path& path,
                 const std::function<void(std::string_view)>& on_block);

/// What becomes of a file that stands where one is to be written.
enum class Existing { refuse, replace };
/// Writes a file whole. One that is there already with these very bytes is left as it is.
void write_file(const std::filesystem::path& path, std::string_view bytes,
                Existing existing = Existing::refuse);
/// Makes the folder and those above it.
void make_folder(const std::filesystem::path& path);
/// Names of the plain files in a folder, sorted; links are none.
[[nodiscard]] std::vector<std::string> file_names(const std::filesystem::path& folder);
/// Whether the file begins as a database does; false where it cannot be read.
[[nodiscard]] bool is_database(const std::filesystem::path& file);
/// The folder that holds it, "." where the path names none.
[[nodiscard]] std::filesystem::path folder_of(const std::filesystem::path& path);
/// Flushes a file or a folder to the disk.
void flush_to_disk(const std::filesystem::path& path);
/// Puts one in the other's place in one step, on disk on return.
void put_in_place(const std::filesystem::path& from, const std::filesystem::path& to,
                  Existing existing);
/// Takes away what writers that ended in the middle left beside TARGET. Those that live are let be.
void clear_leftovers(const std::filesystem::path& target) noexcept;

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
/// otherwise, with all that a database leaves beside it.
class PendingFile {
 public:
  explicit PendingFile(std::filesystem::path target, Existing existing = Existing::refuse);
  ~PendingFile();
  PendingFile(const PendingFile&) = delete;
  PendingFile& operator=(const PendingFile&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return temporary_; }
  void commit();

 private:
  std::filesystem::path target_, temporary_;
  Existing existing_;
  bool committed_ = false;
};

/// A file written bit by bit, that stands under its name only once it is whole. Every failure names
/// the file.
class StreamedFile {
 public:
  explicit StreamedFile(const std::filesystem::path& target, Existing existing = Existing::refuse);
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

/// A name in a folder of its own among the system's temporary files; all of it goes at the end.
class ScratchFile {
 public:
  explicit ScratchFile(const std::string& name);
  ~ScratchFile();
  ScratchFile(const ScratchFile&) = delete;
  ScratchFile& operator=(const ScratchFile&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Files that stand in a folder all or not at all: written into a sister of it, then put in place.
/// A folder that is not there, or empty, appears whole in one step; into one that holds other files
/// they are put one after the other, and taken out again where one of them cannot be.
class PendingFolder {
 public:
  explicit PendingFolder(std::filesystem::path target, Existing existing = Existing::refuse);
  ~PendingFolder();
  PendingFolder(const PendingFolder&) = delete;
  PendingFolder& operator=(const PendingFolder&) = delete;
  /// `name` may have folders in it.
  void add(const std::string& name, std::string_view bytes);
  void commit();

 private:
  std::filesystem::path target_, temporary_;
  Existing existing_;
  std::vector<std::string> names_;
  bool committed_ = false;
};

}  // namespace store
