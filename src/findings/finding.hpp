// SPDX-License-Identifier: Apache-2.0
// Finding: one thing that a check noticed. Nothing prints a warning any other way. Which findings
// there are stands in catalogue.def; a name that is not there does not compile.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "base/json.hpp"
#include "base/step_name.hpp"

namespace findings {

enum class Severity : std::uint8_t {
  note,     ///< good to know
  caution,  ///< look at this before going on
  stop      ///< do not go on until it is mended
};

enum class Id : std::uint16_t {
#define FINDING(name, ...) name,
#include "findings/catalogue.def"
#undef FINDING
};

/// A row of the catalogue.
struct Row {
  Id id;
  std::string word;  ///< in files, stable: "fuse-cannot-break"
  Severity gravest;  ///< some are milder where a limit is broken by little
  base::StepName step;
  std::string_view says;  ///< what it says, without its numbers
};
[[nodiscard]] std::span<const Row> catalogue();
[[nodiscard]] const Row& row(Id id);
[[nodiscard]] std::string_view word(Id id);
/// Nothing where no finding has that word.
[[nodiscard]] std::optional<Id> find(std::string_view word);
/// The catalogue as a page for people (docs/findings.md): a table for each step, with what each
/// holds.
[[nodiscard]] std::string catalogue_page();

struct Finding {
  Id id = Id::setting_unknown;
  Severity severity = Severity::note;
  std::string what = {};         ///< one sentence
  std::string where = {};        ///< a cell, a place, a line of a file, a setting, in words
  std::string measured = {};     ///< with its unit; empty where nothing was measured
  std::string limit = {};        ///< with its unit; empty where there is none
  std::string why = {};          ///< why it matters
  std::string remedy = {};       ///< what to do
  std::string basis = {};        ///< a source, or "common practice, no source"
  std::optional<int> pack = {};  ///< from 0, where it is one pack's alone
};

[[nodiscard]] std::string_view name(Severity severity);
/// ■ stop, ▲ caution, ○ note: the marks of the house, never colour alone.
[[nodiscard]] std::string_view mark(Severity severity);
[[nodiscard]] base::Json to_json(const Finding& finding);
[[nodiscard]] base::Json to_json(const std::vector<Finding>& findings);
/// Stop first, then caution, then note; otherwise the order in which they were found.
void sort_by_severity(std::vector<Finding>& findings);

}  // namespace findings
