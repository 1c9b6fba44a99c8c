// SPDX-License-Identifier: Apache-2.0
#include "findings/finding.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

#include "base/check.hpp"

namespace findings {

std::span<const Row> catalogue() {
  static const std::vector<Row> rows = [] {
    std::vector<Row> list;
    const auto add = [&](Id id, std::string word, Severity gravest, base::StepName step,
                         std::string_view says) {
      std::replace(word.begin(), word.end(), '_', '-');
      CHECK(list.size() == static_cast<std::size_t>(id), word);
      list.push_back({id, std::move(word), gravest, step, says});
    };
#define FINDING(name, severity, step, says) \
  add(Id::name, #name, Severity::severity, base::StepName::step, says);
#include "findings/catalogue.def"
#undef FINDING
    return list;
  }();
  return rows;
}

const Row& row(Id id) { return catalogue()[static_cast<std::size_t>(id)]; }

std::string_view word(Id id) { return row(id).word; }

std::optional<Id> find(std::string_view word) {
  for (const Row& r : catalogue())
    if (r.word == word) return r.id;
  return std::nullopt;
}

std::string catalogue_page() {
  std::string text;
  for (int s = 0; s <= static_cast<int>(base::StepName::book); ++s) {
    const auto step = static_cast<base::StepName>(s);
    std::string rows;
    for (const Row& r : catalogue())
      if (r.step == step)
        rows += fmt::format("| `{}` | {} {} | {} |\n", r.word, mark(r.gravest), name(r.gravest),
                            r.says);
    if (!rows.empty())
      text +=
          fmt::format("\n## {}\n\n| finding | at its gravest | what it says |\n|---|---|---|\n{}",
                      base::name(step), rows);
  }
  return text;
}

std::string_view name(Severity severity) {
  switch (severity) {
    case Severity::stop:
      return "stop";
    case Severity::caution:
      return "caution";
    case Severity::note:
      break;
  }
  return "note";
}

std::string_view mark(Severity severity) {
  switch (severity) {
    case Severity::stop:
      return "■";
    case Severity::caution:
      return "▲";
    case Severity::note:
      break;
  }
  return "○";
}

base::Json to_json(const Finding& f) {
  return {{"id", word(f.id)},
          {"severity", name(f.severity)},
          {"step", base::name(row(f.id).step)},
          {"what", f.what},
          {"where", f.where},
          {"measured", f.measured},
          {"limit", f.limit},
          {"why", f.why},
          {"remedy", f.remedy},
          {"basis", f.basis}};
}

base::Json to_json(const std::vector<Finding>& findings) {
  base::Json array = base::Json::array();
  for (const Finding& f : findings) array.push_back(to_json(f));
  return array;
}

void sort_by_severity(std::vector<Finding>& findings) {
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.severity > b.severity; });
}

}  // namespace findings
