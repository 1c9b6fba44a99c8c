// SPDX-License-Identifier: Apache-2.0
#include "base/reckoning.hpp"

#include <cmath>

#include <fmt/format.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"

namespace base {
namespace {

using InputKind = InputSpec::Kind;

std::string_view stem(const InputSpec& spec) {
  if (spec.suffix.empty()) return spec.key;
  return spec.key.substr(0, spec.key.size() - spec.suffix.size() - 1);
}

const InputSpec* find_input(const Reckoning& reckoning, std::string_view key) {
  for (const InputSpec& spec : reckoning.inputs)
    if (spec.key == key) return &spec;
  const std::string wanted = lower(key);
  for (const InputSpec& spec : reckoning.inputs)
    if (lower(spec.key) == wanted || lower(stem(spec)) == wanted) return &spec;
  return nullptr;
}

std::string known_keys(const Reckoning& reckoning) {
  std::string keys;
  for (const InputSpec& spec : reckoning.inputs)
    keys += (keys.empty() ? "" : ", ") + std::string(spec.key);
  return keys;
}

std::string range_text(const InputSpec& spec) {
  return fmt::format("a {}number from {:g} to {:g}{}{}",
                     spec.kind == InputKind::whole ? "whole " : "", spec.min, spec.max,
                     spec.unit.empty() ? "" : " ", spec.unit);
}

[[noreturn]] void refuse(const Reckoning& reckoning, const InputSpec& spec, std::string_view found,
                         const std::string& expected) {
  throw InputError(
      {}, fmt::format("{}={}", spec.key, found), fmt::format("{}: {}", spec.text, expected),
      fmt::format("give {} within its range; 'packhouse reckon {} --explain' tells all inputs",
                  spec.key, reckoning.name));
}

void check_range(const Reckoning& reckoning, const InputSpec& spec, double value,
                 std::string_view found) {
  const bool whole = spec.kind != InputKind::whole || value == std::floor(value);
  if (!(value >= spec.min && value <= spec.max) || !whole)
    refuse(reckoning, spec, found, range_text(spec));
}

double read_one(const Reckoning& reckoning, const InputSpec& spec, std::string_view text) {
  const auto parsed = parse_with_unit(text);
  if (!parsed) refuse(reckoning, spec, text, range_text(spec));
  double value = parsed->value;
  if (!parsed->unit.empty()) {
    const auto converted = convert(value, parsed->unit, spec.unit);
    if (!converted)
      refuse(reckoning, spec, text,
             spec.unit.empty()
                 ? "a bare number, without a unit"
                 : fmt::format("a value in {} or a unit of the same kind", spec.unit));
    value = *converted;
  }
  check_range(reckoning, spec, value, text);
  return value;
}

std::vector<double> read_list(const Reckoning& reckoning, const InputSpec& spec,
                              std::string_view text) {
  std::vector<double> values;
  for (const std::string_view part : listed(text))
    values.push_back(read_one(reckoning, spec, part));
  return values;
}

Arguments::Value read_value(const Reckoning& reckoning, const InputSpec& spec,
                            std::string_view text) {
  switch (spec.kind) {
    case InputKind::number:
    case InputKind::whole:
      return read_one(reckoning, spec, text);
    case InputKind::list:
      return read_list(reckoning, spec, text);
    case InputKind::text:
      return std::string(text);
    case InputKind::choice:
      break;
  }
  std::string choices;
  for (const std::string_view choice : spec.choices) {
    if (lower(text) == lower(choice)) return std::string(choice);
    choices += (choices.empty() ? "one of " : ", ") + std::string(choice);
  }
  refuse(reckoning, spec, text, choices);
}

/// Fills in the defaults; what is still missing is an error.
void complete(const Reckoning& reckoning, Arguments& arguments) {
  for (const InputSpec& spec : reckoning.inputs) {
    if (arguments.has(spec.key)) continue;
    if (spec.fallback)
      arguments.set(spec.key, read_value(reckoning, spec, *spec.fallback));
    else if (!spec.optional)
      throw InputError(
          {}, fmt::format("{} without {}", reckoning.name, spec.key),
          fmt::format("{}: {}", spec.key, spec.text),
          fmt::format("for example: packhouse reckon {} {}", reckoning.name, reckoning.example));
  }
}

[[noreturn]] void refuse_key(const Reckoning& reckoning, std::string_view key) {
  throw InputError(
      {}, fmt::format("the key '{}'", key), fmt::format("one of: {}", known_keys(reckoning)),
      fmt::format("'packhouse reckon {} --explain' tells what each is", reckoning.name));
}

}  // namespace

InputSpec number_input(std::string_view key, std::string_view suffix, std::string_view unit,
                       std::string_view text, double min, double max,
                       std::optional<std::string_view> fallback) {
  return {.key = key,
          .suffix = suffix,
          .unit = unit,
          .text = text,
          .min = min,
          .max = max,
          .fallback = fallback};
}

InputSpec choice_input(std::string_view key, std::string_view text,
                       std::vector<std::string_view> choices,
                       std::optional<std::string_view> fallback) {
  return {.key = key,
          .suffix = "",
          .unit = "",
          .text = text,
          .kind = InputKind::choice,
          .fallback = fallback,
          .choices = std::move(choices)};
}

double Arguments::number(std::string_view key) const {
  const auto found = values_.find(key);
  CHECK(found != values_.end(), std::string(key));
  if (const auto* list = std::get_if<std::vector<double>>(&found->second)) {
    CHECK(list->size() == 1, std::string(key));
    return list->front();
  }
  return std::get<double>(found->second);
}

int Arguments::whole(std::string_view key) const {
  return static_cast<int>(std::lround(number(key)));
}

const std::vector<double>& Arguments::list(std::string_view key) const {
  const auto found = values_.find(key);
  CHECK(found != values_.end(), std::string(key));
  return std::get<std::vector<double>>(found->second);
}

const std::string& Arguments::text(std::string_view key) const {
  const auto found = values_.find(key);
  CHECK(found != values_.end(), std::string(key));
  return std::get<std::string>(found->second);
}

Json Arguments::to_json() const {
  Json json = Json::object();
  for (const auto& [key, value] : values_)
    std::visit([&, &k = key](const auto& v) { json[k] = v; }, value);
  return json;
}

Arguments read_arguments(const Reckoning& reckoning, std::span<const std::string> typed) {
  Arguments arguments;
  for (const std::string& argument : typed) {
    const std::size_t equals = argument.find('=');
    if (equals == std::string::npos)
      throw InputError(
          {}, fmt::format("'{}'", argument), "key=value",
          fmt::format("for example: packhouse reckon {} {}", reckoning.name, reckoning.example));
    const std::string_view key = trimmed(std::string_view(argument).substr(0, equals));
    const InputSpec* spec = find_input(reckoning, key);
    if (!spec) refuse_key(reckoning, key);
    if (arguments.has(spec->key))
      throw InputError({}, fmt::format("{} given twice", spec->key), "each input once",
                       "leave one of them out");
    arguments.set(spec->key, read_value(reckoning, *spec,
                                        trimmed(std::string_view(argument).substr(equals + 1))));
  }
  complete(reckoning, arguments);
  return arguments;
}

Arguments read_arguments(const Reckoning& reckoning, const Json& values) {
  Arguments arguments;
  for (const auto& [key, value] : values.items()) {
    const InputSpec* spec = find_input(reckoning, key);
    if (!spec) refuse_key(reckoning, key);
    if (value.is_string()) {
      arguments.set(spec->key, read_value(reckoning, *spec, value.get<std::string>()));
    } else if (value.is_array()) {
      auto list = value.get<std::vector<double>>();
      for (const double v : list) check_range(reckoning, *spec, v, fmt::format("{:g}", v));
      arguments.set(spec->key, std::move(list));
    } else {
      const auto number = value.get<double>();
      check_range(reckoning, *spec, number, fmt::format("{:g}", number));
      if (spec->kind == InputKind::list)
        arguments.set(spec->key, std::vector<double>{number});
      else
        arguments.set(spec->key, number);
    }
  }
  complete(reckoning, arguments);
  return arguments;
}

Json run_to_json(const Reckoning& reckoning, const Arguments& arguments) {
  const Answer answer = reckoning.run(arguments);
  Json units = Json::object();
  for (const OutputSpec& output : reckoning.outputs) units[std::string(output.key)] = output.unit;
  Json cautions = Json::array();
  for (const std::string& caution : answer.cautions) cautions.push_back(caution);
  for (const std::string_view caution : reckoning.cautions) cautions.push_back(caution);
  const Json given = arguments.to_json();
  Json inputs = Json::object();
  for (const InputSpec& spec : reckoning.inputs)
    if (const std::string key(spec.key); given.contains(key)) inputs[key] = given[key];
  return {{"name", reckoning.name},         {"inputs", std::move(inputs)},
          {"outputs", answer.outputs},      {"units", std::move(units)},
          {"formula", reckoning.formula},   {"source", reckoning.source},
          {"validity", reckoning.validity}, {"cautions", std::move(cautions)}};
}

}  // namespace base
