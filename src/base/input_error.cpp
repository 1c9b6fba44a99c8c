// SPDX-License-Identifier: Apache-2.0
#include "base/input_error.hpp"

namespace base {

InputError::InputError(Place place, std::string found, std::string expected, std::string remedy)
    : place_(std::move(place)),
      found_(std::move(found)),
      expected_(std::move(expected)),
      remedy_(std::move(remedy)) {
  if (!place_.file.empty()) text_ += place_.file;
  if (place_.line > 0) text_ += (text_.empty() ? "line " : ", line ") + std::to_string(place_.line);
  if (place_.column > 0)
    text_ += (text_.empty() ? "column " : ", column ") + std::to_string(place_.column);
  if (!text_.empty()) text_ += ":\n";
  text_ += "  found:    " + found_ + "\n  expected: " + expected_ + "\n  to do:    " + remedy_;
}

InputError InputError::in_file(const std::string& file) const {
  return {{file, place_.line, place_.column}, found_, expected_, remedy_};
}

}  // namespace base
