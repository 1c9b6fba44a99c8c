// SPDX-License-Identifier: Apache-2.0
// One writer a project file: who writes it says so before it reads, and a second one is told who
// that is. The file itself is held, not its name: links lead to the same holder.
#pragma once

#include <filesystem>
#include <string>

namespace store {

class InUse {
 public:
  /// How long others hold a file: a command for seconds, a page as long as it is open.
  enum class Stay { brief, lasting };

  /// Holds FILE until the end of its scope, or of the process however that ends. `what` says to
  /// others who holds it. Where one who stays briefly has it, waits for at most `patience_s`.
  /// Throws InputError that names the holder. FILE need not be there yet.
  InUse(const std::filesystem::path& file, const std::string& what, Stay stay = Stay::lasting,
        double patience_s = 0.0);
  ~InUse();
  InUse(const InUse&) = delete;
  InUse& operator=(const InUse&) = delete;

  /// The file that the name leads to, through all links.
  [[nodiscard]] const std::filesystem::path& file() const { return file_; }
  /// Holds the file that was made, or put in its place, since.
  void hold_the_file_itself();

 private:
  /// Takes the note beside the file; says who has it in `holder` where it cannot.
  bool take_note(std::string& holder, bool& brief);
  void write_note(const std::string& text) const;

  std::filesystem::path file_, beside_;
  int note_ = -1, itself_ = -1;
};

/// The file that a name leads to through all links; a name that leads nowhere yet stays.
[[nodiscard]] std::filesystem::path resolved(const std::filesystem::path& file);

}  // namespace store
