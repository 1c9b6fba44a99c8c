// SPDX-License-Identifier: Apache-2.0
// InputError: what a person gave us cannot be used. Thrown at the edge that reads, shown once.
#pragma once

#include <cstddef>
#include <exception>
#include <string>

namespace base {

/// Says where, what was found, what was expected and what to do. Zero for line or column: not
/// known.
class InputError : public std::exception {
 public:
  struct Place {
    std::string file = {};
    std::size_t line = 0;
    std::size_t column = 0;
  };
  InputError(Place place, std::string found, std::string expected, std::string remedy);

  [[nodiscard]] const Place& place() const { return place_; }
  [[nodiscard]] const std::string& found() const { return found_; }
  [[nodiscard]] const std::string& expected() const { return expected_; }
  [[nodiscard]] const std::string& remedy() const { return remedy_; }
  [[nodiscard]] const char* what() const noexcept override { return text_.c_str(); }
  /// The same error, in a named file (the pure layers do not know file names).
  [[nodiscard]] InputError in_file(const std::string& file) const;

 private:
  Place place_;
  std::string found_, expected_, remedy_, text_;
};

}  // namespace base
