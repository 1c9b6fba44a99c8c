// SPDX-License-Identifier: Apache-2.0
// Every setting of a project, told once: it feeds the text form's reader, the project file, the
// errors, the defaults' 'why?' and the list in docs/howto/project.md (a test holds that list to
// this one).
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace works {

struct Setting {
  enum class Kind { number, whole, text, choice };
  std::string_view table, key;
  Kind kind = Kind::number;
  std::string_view unit;  ///< as shown; the key ends in it where it is not a bare number
  double min = 0.0, max = 0.0;
  std::string_view fallback;  ///< default as text; empty: none
  bool required = false;
  std::string_view text;   ///< what it is
  std::string_view basis;  ///< where the default comes from
  std::vector<std::string_view> choices = {};
};

[[nodiscard]] const std::vector<Setting>& settings();
/// Nothing where no such setting exists.
[[nodiscard]] const Setting* find_setting(std::string_view table, std::string_view key);

}  // namespace works
