// SPDX-License-Identifier: Apache-2.0
#include "project/settings.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/input_error.hpp"

namespace project {
namespace {

using base::InputError;

/// Every setting of one project, in the catalogue's order.
std::vector<Said*> all(Settings& settings) {
  std::vector<Said*> list;
  const auto add = [&](Said& said) { list.push_back(&said); };
#define TABLE(Struct, member, ...) \
  {                                \
    auto& t = settings.member;
#define END_TABLE(...) }
#define NUMBER(T, m, ...) add(t.m);
#define NEEDED(T, m, ...) add(t.m);
#define MAYBE(T, m, ...) add(t.m);
#define CHOICE(E, m, ...) add(t.m);
#define TEXT(m, ...) add(t.m);
#define FORMER(...)
#include "project/settings.def"
#undef TABLE
#undef END_TABLE
#undef NUMBER
#undef NEEDED
#undef MAYBE
#undef CHOICE
#undef TEXT
#undef FORMER
  return list;
}

struct Catalogue {
  std::vector<const Row*> rows;
  std::map<const Row*, std::ptrdiff_t>
      offset;  ///< of the setting from the start of its Settings, bytes
  std::map<std::string, const Row*, std::less<>> by_path;
};

const Catalogue& known() {
  static const Catalogue catalogue = [] {
    Catalogue c;
    Settings settings;
    const auto* start = reinterpret_cast<const char*>(&settings);
    for (const Said* said : all(settings)) {
      c.rows.push_back(&said->row());
      c.offset[&said->row()] = reinterpret_cast<const char*>(said) - start;
      c.by_path[said->row().path()] = &said->row();
    }
    return c;
  }();
  return catalogue;
}

std::string keys_of(std::string_view table) {
  std::vector<std::string_view> keys;
  for (const Row* row : catalogue())
    if (row->table == table) keys.push_back(row->key);
  return fmt::format("{}", fmt::join(keys, ", "));
}

Value checked_number(const Row& row, const Value& value) {
  const double* number = std::get_if<double>(&value);
  const bool whole =
      number != nullptr && (row.kind != Row::Kind::whole || *number == std::floor(*number));
  if (number != nullptr && whole && *number >= row.min && *number <= row.max) return value;
  throw InputError({},
                   fmt::format("{} = {}", row.path(),
                               number ? fmt::format("{:g}", *number)
                                      : "\"" + std::get<std::string>(value) + "\""),
                   fmt::format("{}: a {}number from {:g} to {:g}{}{}", row.label,
                               row.kind == Row::Kind::whole ? "whole " : "", row.min, row.max,
                               row.unit.empty() ? "" : " ", row.unit),
                   "give a value within the range, without quotes");
}

Value checked_text(const Row& row, const Value& value) {
  const std::string* text = std::get_if<std::string>(&value);
  if (text == nullptr)
    throw InputError({}, fmt::format("{} = {:g}", row.path(), std::get<double>(value)),
                     fmt::format("{}: a text", row.label), "put it in quotes");
  if (row.kind == Row::Kind::choice) {
    std::vector<std::string_view> codes;
    for (const Choice& c : row.choices) {
      if (c.code == *text) return value;
      codes.push_back(c.code);
    }
    throw InputError({}, fmt::format("{} = \"{}\"", row.path(), *text),
                     fmt::format("{}: one of {}", row.label, fmt::join(codes, ", ")),
                     "take one of these");
  }
  constexpr std::size_t most_bytes = 20000;
  if (text->size() > most_bytes)
    throw InputError({}, fmt::format("{} with {} bytes", row.path(), text->size()),
                     fmt::format("at most {} bytes", most_bytes), "shorten the text");
  return value;
}

}  // namespace

const std::vector<const Row*>& catalogue() { return known().rows; }

const Row* find_row(std::string_view path) {
  const auto found = known().by_path.find(path);
  return found == known().by_path.end() ? nullptr : found->second;
}

Said& at(Settings& settings, const Row& row) {
  return *reinterpret_cast<Said*>(reinterpret_cast<char*>(&settings) + known().offset.at(&row));
}

const Said& at(const Settings& settings, const Row& row) {
  return *reinterpret_cast<const Said*>(reinterpret_cast<const char*>(&settings) +
                                        known().offset.at(&row));
}

std::vector<Former> former_keys() {
  std::vector<Former> list;
#define TABLE(...)
#define END_TABLE(...)
#define NUMBER(...)
#define NEEDED(...)
#define MAYBE(...)
#define CHOICE(...)
#define TEXT(...)
#define FORMER(old_path, path, factor) list.push_back({old_path, path, factor});
#include "project/settings.def"
#undef TABLE
#undef END_TABLE
#undef NUMBER
#undef NEEDED
#undef MAYBE
#undef CHOICE
#undef TEXT
#undef FORMER
  return list;
}

Value checked(std::string_view path, const Value& value) {
  const Row* row = find_row(path);
  if (row == nullptr) {
    const std::string_view table = path.substr(0, path.find('.'));
    const std::string_view key = path.substr(std::min(path.size(), table.size() + 1));
    const std::string keys = keys_of(table);
    throw InputError(
        {}, fmt::format("the key '{}' in [{}]", key, table),
        keys.empty() ? "a table that Packhouse knows" : fmt::format("one of: {}", keys),
        "check the spelling, or take the line out");
  }
  return row->numeric() ? checked_number(*row, value) : checked_text(*row, value);
}

void say(Said& setting, Value value) {
  Value good = checked(setting.row().path(), value);
  setting.say(std::move(good));
}

std::string said_in(const Settings& settings, const std::vector<std::string_view>& tables) {
  std::string text;
  for (const Row* row : catalogue()) {
    if (std::find(tables.begin(), tables.end(), row->table) == tables.end()) continue;
    const Said& said = at(settings, *row);
    if (!said.given()) continue;
    const double* number = std::get_if<double>(&*said.said());
    const std::string* words = std::get_if<std::string>(&*said.said());
    text += number ? fmt::format("{}={:a}\n", row->path(), *number)
                   : fmt::format("{}:{}:{}\n", row->path(), words->size(), *words);
  }
  return text;
}

// --- said.hpp

std::string Row::usual() const {
  if (!numeric()) return std::string(usual_text);
  return usual_number ? fmt::format("{:g}", *usual_number) : "";
}

std::optional<double> Said::number() const {
  if (!said_) return row_->usual_number;
  const double* value = std::get_if<double>(&*said_);
  if (value == nullptr) return row_->usual_number;
  const double near = std::clamp(*value, row_->min, row_->max);
  return row_->kind == Row::Kind::whole ? std::round(near) : near;
}

const std::string* Said::text() const {
  return said_ ? std::get_if<std::string>(&*said_) : nullptr;
}

std::size_t detail::index_of(const Row& row, const std::string* code) {
  std::size_t usual = 0;
  for (std::size_t i = 0; i < row.choices.size(); ++i) {
    if (code != nullptr && row.choices[i].code == *code) return i;
    if (row.choices[i].code == row.usual_text) usual = i;
  }
  return usual;
}

}  // namespace project
