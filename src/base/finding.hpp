// SPDX-License-Identifier: Apache-2.0
// Finding: one thing that a check noticed. Nothing prints a warning any other way.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "base/json.hpp"

namespace base {

enum class Severity : std::uint8_t {
  note,     ///< good to know
  caution,  ///< look at this before going on
  stop      ///< do not go on until it is mended
};

struct Finding {
  std::string id = {};  ///< stable, kebab-case, one for each kind
  Severity severity = Severity::note;
  std::string what = {};      ///< one sentence
  std::string where = {};     ///< a cell, a place, a line of a file, a setting
  std::string measured = {};  ///< with its unit; empty where nothing was measured
  std::string limit = {};     ///< with its unit; empty where there is none
  std::string why = {};       ///< why it matters
  std::string remedy = {};    ///< what to do
  std::string basis = {};     ///< a source, or "common practice, no source"
  std::string step = {};      ///< of the job, where it was noticed; empty outside a plan
};

[[nodiscard]] std::string_view name(Severity severity);
/// ■ stop, ▲ caution, ○ note: the marks of the house, never colour alone.
[[nodiscard]] std::string_view mark(Severity severity);
[[nodiscard]] Json to_json(const Finding& finding);
[[nodiscard]] Json to_json(const std::vector<Finding>& findings);
/// Stop first, then caution, then note; otherwise the order in which they were found.
void sort_by_severity(std::vector<Finding>& findings);

}  // namespace base
