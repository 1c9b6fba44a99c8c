// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "works/reckonings.hpp"

namespace cli {
namespace {

using base::Json;
using InputKind = base::InputSpec::Kind;

std::string accepts(const base::InputSpec& spec) {
  std::string text;
  if (spec.kind == InputKind::choice) {
    for (const std::string_view c : spec.choices)
      text += (text.empty() ? "" : " | ") + std::string(c);
  } else if (spec.kind != InputKind::text) {
    text = fmt::format("{:g} … {:g}", spec.min, spec.max);
  }
  if (spec.fallback)
    text += fmt::format(" ({})", *spec.fallback);
  else if (spec.optional)
    text += " (optional)";
  return text;
}

void explain(const base::Reckoning& r) {
  fmt::print("{}\n{}\n\n", bold(r.title), quiet(r.name));
  std::vector<std::vector<std::string>> rows;
  for (const base::InputSpec& spec : r.inputs)
    rows.push_back({std::string(spec.key), accepts(spec), std::string(spec.text)});
  fmt::print("{}\n", table({{"input"}, {"range (default)"}, {"what it is"}}, rows));
  rows.clear();
  for (const base::OutputSpec& spec : r.outputs)
    rows.push_back({std::string(spec.key), std::string(spec.unit), std::string(spec.text)});
  fmt::print("{}\n", table({{"output"}, {"unit"}, {"what it is"}}, rows));
  fmt::print("Formula   {}\nSource    {}\nValid     {}\n", wrap(r.formula, 80, 10),
             wrap(r.source, 80, 10), wrap(r.validity, 80, 10));
  for (const std::string_view c : r.cautions) fmt::print("▲ caution {}\n", wrap(c, 80, 10));
  fmt::print("Example   {}\n",
             wrap(fmt::format("packhouse reckon {} {}", r.name, r.example), 80, 10));
}

void list_all(bool json) {
  if (json) {
    Json all = Json::array();
    for (const base::Reckoning& r : works::reckonings()) {
      Json inputs = Json::array(), outputs = Json::array();
      for (const base::InputSpec& s : r.inputs)
        inputs.push_back({{"key", s.key},
                          {"unit", s.unit},
                          {"text", s.text},
                          {"min", s.min},
                          {"max", s.max},
                          {"default", s.fallback ? Json(*s.fallback) : Json(nullptr)},
                          {"choices", s.choices}});
      for (const base::OutputSpec& s : r.outputs)
        outputs.push_back({{"key", s.key}, {"unit", s.unit}, {"text", s.text}});
      all.push_back({{"name", r.name},
                     {"title", r.title},
                     {"inputs", inputs},
                     {"outputs", outputs},
                     {"formula", r.formula},
                     {"source", r.source},
                     {"validity", r.validity}});
    }
    print_json(all);
    return;
  }
  std::vector<std::vector<std::string>> rows;
  for (const base::Reckoning& r : works::reckonings())
    rows.push_back({std::string(r.name), std::string(r.title)});
  fmt::print("{}\n{} reckonings. One by name tells more: packhouse reckon ampacity --explain\n",
             table({{"name"}, {"what it answers"}}, rows), rows.size());
}

std::string shown(const Json& value) {
  if (value.is_number()) return base::significant(value.get<double>(), 6);
  if (value.is_null()) return "none";
  if (value.is_string()) return value.get<std::string>();
  std::string text;
  if (value.is_array())
    for (const Json& v : value)
      text += (text.empty()               ? ""
               : value.front().is_array() ? "; "
                                          : ", ") +
              (v.is_array() ? "[" + shown(v) + "]" : shown(v));
  if (value.is_object())
    for (const auto& [k, v] : value.items())
      text += (text.empty() ? "" : "; ") + k + " " + shown(v);
  return text;
}

}  // namespace

int reckon(const ReckonOptions& options) {
  if (options.name.empty()) {
    list_all(options.json);
    return 0;
  }
  const base::Reckoning* r = works::find_reckoning(options.name);
  if (r == nullptr)
    throw base::InputError({}, fmt::format("no reckoning called '{}'", options.name),
                           "one of those that 'packhouse reckon' lists", "type: packhouse reckon");
  if (options.explain || (options.arguments.empty() && !options.json)) {
    explain(*r);
    return 0;
  }
  const Json answer = base::run_to_json(
      *r, base::read_arguments(*r, std::span<const std::string>(options.arguments)));
  if (options.json) {
    print_json(answer);
    return 0;
  }
  fmt::print("{}\n\n", bold(r->title));
  std::vector<std::vector<std::string>> rows;
  for (const auto& [key, value] : answer["outputs"].items()) {
    std::string text;
    for (const base::OutputSpec& spec : r->outputs)
      if (spec.key == key) text = spec.text;
    rows.push_back({key, shown(value), answer["units"].value(key, ""), text});
  }
  bool wide = false;
  for (const auto& row : rows) wide = wide || width(row[1]) > 30;
  if (wide)
    for (const auto& row : rows)
      fmt::print("{}  {}\n", left(row[0], 20), wrap(row[1] + " " + row[2], 80, 22));
  else
    fmt::print("{}", table({{"output"}, {"value", true}, {"unit"}, {"what it is"}}, rows));
  fmt::print("\nFormula   {}\nSource    {}\nValid     {}\n", wrap(r->formula, 80, 10),
             wrap(r->source, 80, 10), wrap(r->validity, 80, 10));
  for (const Json& c : answer["cautions"])
    fmt::print("▲ caution {}\n", wrap(c.get<std::string>(), 80, 10));
  return 0;
}

}  // namespace cli
