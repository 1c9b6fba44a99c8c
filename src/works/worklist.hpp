// SPDX-License-Identifier: Apache-2.0
// The checklists of this bank as they stand: what is open, what is held by a finding, what was
// signed, by whom, with what reading.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "commission/checklists.hpp"
#include "works/plan.hpp"

namespace works {

/// What a reading should be, and from where that is known.
struct Expected {
  double low = 0.0, high = 0.0;
  std::string unit, from;
};

struct WorkStep {
  /// `done_over`: with a written reason. What was signed and is spoken against since, or lacks what
  /// it needs, is open or held again.
  enum class State { open, held, done, done_over };
  const commission::CheckStep* step = nullptr;
  std::string id;    ///< with "@A" behind it where it is one pack's
  std::string pack;  ///< empty: the bank's
  std::string text;  ///< with this bank's amperes
  std::optional<Expected> expected;
  std::vector<findings::Id> held_by;   ///< findings that must not stand
  std::vector<std::string> waits_for;  ///< steps before it that are not signed, by id
  std::optional<Signature> record;     ///< the last one, by its day
  std::vector<Signature> earlier = {};
  State state = State::open;
};
[[nodiscard]] std::string_view name(WorkStep::State state);
/// What holds it, for people: what the findings say, and which steps come first.
[[nodiscard]] std::vector<std::string> held_in_words(const WorkStep& step);

struct WorkList {
  const commission::Checklist* list = nullptr;
  std::string id;  ///< "first-power", "assembly@A"
  std::string pack;
  std::vector<WorkStep> steps;
};
[[nodiscard]] std::vector<WorkList> work_lists(const Project& project, const Plan& plan);

/// Adds a record of a step. Throws InputError: no such step, nobody's name, a day that is none, a
/// reading left out or one that nobody asked for, a note left out where what opened must be told; a
/// reading outside what is expected, or a finding at stop, without a note that says why it is
/// signed all the same. What was signed before stays.
void sign(Project& project, const Plan& plan, const Signature& signature);
/// What makes one doubt that the clock is right: a day before what was signed last, long after it,
/// or before there was this program. Nothing where it may be right.
[[nodiscard]] std::optional<std::string> doubt_about_today(const Project& project,
                                                           const std::string& today);

[[nodiscard]] base::Json to_json(const std::vector<WorkList>& lists);

}  // namespace works
