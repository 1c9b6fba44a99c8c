// SPDX-License-Identifier: Apache-2.0
// Checklists worked through and signed.
#include <algorithm>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "store/in_use.hpp"
#include "store/project_file.hpp"
#include "works/worklist.hpp"

namespace cli {
using base::InputError;
using base::Json;
using works::WorkStep;

namespace {

/// ☐ open, ■ held, ☑ signed, ▲ signed with a reason: never colour alone.
std::string_view mark(WorkStep::State state) {
  switch (state) {
    case WorkStep::State::open:
      return "☐";
    case WorkStep::State::held:
      return "■";
    case WorkStep::State::done:
      return "☑";
    case WorkStep::State::done_over:
      return "▲";
  }
  return "";
}

void print(const works::WorkList& list) {
  const auto done = std::count_if(list.steps.begin(), list.steps.end(),
                                  [](const WorkStep& w) { return w.record.has_value(); });
  fmt::print(
      "{}  {}\n",
      bold(fmt::format("{}{}", list.list->title, list.pack.empty() ? "" : ", pack " + list.pack)),
      quiet(fmt::format("{}; {} of {} signed; {}", list.list->when, done, list.steps.size(),
                        list.id)));
  for (const WorkStep& w : list.steps) {
    fmt::print("{} {}\n", mark(w.state), bold(w.id));
    fmt::print("  {}\n", wrap(w.text, 78, 2));
    if (w.expected)
      fmt::print("  {}\n",
                 quiet(wrap(fmt::format("read: {:.4g} to {:.4g} {} ({})", w.expected->low,
                                        w.expected->high, w.expected->unit, w.expected->from),
                            78, 2)));
    for (const std::string& held : works::held_in_words(w))
      fmt::print("  {}\n", wrap("held: " + held, 78, 2));
    if (w.record) {
      std::string said = fmt::format("{}, {}", w.record->by, w.record->on);
      if (w.record->value)
        said += fmt::format(": {:g} {}", *w.record->value, w.expected ? w.expected->unit : "");
      if (!w.record->note.empty()) said += fmt::format(". {}", w.record->note);
      if (!w.earlier.empty()) said += fmt::format(" (signed {} times before)", w.earlier.size());
      fmt::print("  {}\n", wrap("signed: " + said, 78, 2));
    }
  }
  fmt::print("\n");
}

/// A day that nobody said is the clock's, and a clock can be far off.
void ask_about_the_clock(const project::Project& project, const std::string& said) {
  if (!said.empty()) return;
  if (const auto doubt = works::doubt_about_today(project, today()))
    throw InputError({}, *doubt, "the day of the signature",
                     fmt::format("look at the clock, or say the day: --on {}", today()));
}

}  // namespace

int checklist(const ChecklistOptions& options) {
  const project::Project project = store::read_project(options.file);
  std::vector<works::WorkList> lists = works::work_lists(project, works::plan(project));
  if (!options.list.empty()) {
    std::string names;
    for (const works::WorkList& l : lists) names += (names.empty() ? "" : ", ") + l.id;
    std::erase_if(lists, [&](const works::WorkList& l) {
      return l.id != options.list && l.id.substr(0, l.id.find('@')) != options.list;
    });
    if (lists.empty())
      throw InputError({}, fmt::format("no checklist '{}'", options.list), "one of: " + names,
                       "copy one of these names");
  }
  if (options.json) {
    print_json(works::to_json(lists));
    return 0;
  }
  for (const works::WorkList& l : lists) print(l);
  fmt::print("{}\n", wrap(std::string(commission::defer)));
  return 0;
}

int sign(const SignOptions& options) {
  must_be_text("--by", options.by);
  must_be_text("--note", options.note);
  std::optional<double> value;
  if (!options.value.empty()) {
    std::string text = options.value;  // 0,4 can only be 0.4 here
    if (const std::size_t comma = text.find(',');
        comma != std::string::npos && text.find_first_of(".,", comma + 1) == std::string::npos &&
        text.find('.') == std::string::npos)
      text[comma] = '.';
    value = base::parse_number(text);
    if (!value)
      throw InputError({}, fmt::format("'{}' as a reading", options.value),
                       "a number without its unit", "write for example --value 0.4");
  }
  const project::Signature signature = {
      options.step, options.by, options.on.empty() ? today() : options.on, value, options.note};
  if (signature.on > today())
    throw InputError({}, fmt::format("{}, a day to come", signature.on), "today or before",
                     "sign it when it is done");
  // Held before it is read: what somebody else signs meanwhile is waited for, not lost.
  const store::InUse held(options.file, "packhouse sign", store::InUse::Stay::brief, 600.0);
  (void)store::upgrade_project(held.file());
  const project::Project before = store::read_project(held.file());
  ask_about_the_clock(before, options.on);
  project::Project project = before;
  works::sign(project, works::plan(before), signature);
  back_up_before_writing(held.file());
  store::update_project(before, project, held.file());
  if (options.json)
    print_json(Json{{"signed", signature.what}, {"by", signature.by}, {"on", signature.on}});
  else
    fmt::print("{} signed by {} on {}.\n", signature.what, signature.by, signature.on);
  return 0;
}

}  // namespace cli
