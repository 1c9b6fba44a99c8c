// SPDX-License-Identifier: Apache-2.0
#include "base/finding.hpp"

#include <algorithm>

namespace base {

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

Json to_json(const Finding& f) {
  Json json = {{"id", f.id},       {"severity", name(f.severity)}, {"what", f.what},
               {"where", f.where}, {"measured", f.measured},       {"limit", f.limit},
               {"why", f.why},     {"remedy", f.remedy},           {"basis", f.basis}};
  if (!f.step.empty()) json["step"] = f.step;
  return json;
}

Json to_json(const std::vector<Finding>& findings) {
  Json array = Json::array();
  for (const Finding& f : findings) array.push_back(to_json(f));
  return array;
}

void sort_by_severity(std::vector<Finding>& findings) {
  std::stable_sort(findings.begin(), findings.end(),
                   [](const Finding& a, const Finding& b) { return a.severity > b.severity; });
}

}  // namespace base
