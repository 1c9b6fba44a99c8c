// SPDX-License-Identifier: Apache-2.0
#include "store/text_form.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "project/fields.hpp"
#include "project/views.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/picture.hpp"

#define TOML_HEADER_ONLY 0
#include <toml++/toml.h>

namespace store {
namespace {

using base::InputError;
using project::Offer;
using project::Project;

constexpr std::string_view main_file = "project.toml";
/// Of project.toml. A text without one was written by hand and is held to today's catalogue; one of
/// another format is taken as it is, with findings.
constexpr int text_format = 2;

// --- writing
// -----------------------------------------------------------------------------------------

std::string toml_text(std::string_view text) {
  std::string result = "\"";
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      result += '\\', result += c;
    else if (c == '\n')
      result += "\\n";
    else if (u < 0x20 || u == 0x7f)
      result += fmt::format("\\u{:04X}", u);
    else
      result += c;
  }
  return result + '"';
}

std::string toml_value(const project::Value& value) {
  const double* number = std::get_if<double>(&value);
  return number ? fmt::format("{}", *number) : toml_text(std::get<std::string>(value));
}

/// Whether the catalogue takes it today.
bool takes(const project::Row& row, const project::Value& value) {
  try {
    (void)project::checked(row.path(), value);
    return true;
  } catch (const InputError&) {
    return false;
  }
}

/// [kept]: what came from a file of another age and the catalogue does not take: written back as it
/// was.
std::string write_settings(const Project& project) {
  std::string text = fmt::format("format = {}\n", text_format), kept;
  std::string_view table;
  for (const project::Row* row : project::catalogue()) {
    const auto& said = at(project, *row).said();
    if (!said) continue;
    if (!takes(*row, *said)) {
      kept += fmt::format("{} = {}\n", toml_text(row->path()), toml_value(*said));
      continue;
    }
    if (row->table != table) text += fmt::format("\n[{}]\n", row->table);
    table = row->table;
    text += fmt::format("{} = {}\n", row->key, toml_value(*said));
  }
  for (const auto& [path, value] : project.unknown)
    kept += fmt::format("{} = {}\n", toml_text(path), toml_value(value));
  return kept.empty() ? text : text + "\n[kept]\n" + kept;
}

std::string write_lists(const Project& project) {
  std::string text;
  for (const Offer& o : project.offers) {
    text += fmt::format("\n[[offer]]\nname = {}\nquantity = {}\n", toml_text(o.name), o.quantity);
    for (const project::OfferNumber& n : project::offer_numbers())
      if (o.*n.member != 0.0) text += fmt::format("{} = {}\n", n.name, o.*n.member);
    if (o.chosen) text += "chosen = true\n";
  }
  for (const project::Signature& s : project.signatures) {
    text += fmt::format("\n[[signed]]\nwhat = {}\nby = {}\non = {}\n", toml_text(s.what),
                        toml_text(s.by), toml_text(s.on));
    if (s.value) text += fmt::format("value = {}\n", *s.value);
    if (!s.note.empty()) text += fmt::format("note = {}\n", toml_text(s.note));
  }
  return text;
}

// --- reading
// -----------------------------------------------------------------------------------------

InputError::Place place_of(const toml::source_region& source) {
  return {std::string(main_file), source.begin.line, source.begin.column};
}

[[noreturn]] void refuse(const toml::node& node, std::string found, std::string expected,
                         std::string remedy) {
  throw InputError(place_of(node.source()), std::move(found), std::move(expected),
                   std::move(remedy));
}

double number_of(const toml::node& node, std::string_view key) {
  if (const auto value = node.value<double>();
      value && (node.is_floating_point() || node.is_integer()) && std::isfinite(*value))
    return *value;
  refuse(node, fmt::format("{} that is no number", key), "a number, without quotes",
         "write for example: quantity = 38");
}

std::string text_of(const toml::node& node, std::string_view key) {
  if (const auto* text = node.as_string()) {
    if (text->get().find('\0') != std::string::npos)
      refuse(node, fmt::format("{} with a zero sign", key), "a text", "take the sign out");
    return text->get();
  }
  refuse(node, fmt::format("{} that is no text", key), "a text", "put it in double quotes");
}

project::Value value_of(const toml::key& key, const toml::node& node, std::string_view path) {
  if (node.is_string()) return text_of(node, key.str());
  if (node.is_floating_point() || node.is_integer()) return *node.value<double>();
  throw InputError(place_of(key.source()), fmt::format("{} that is neither number nor text", path),
                   "a number or a text", "write one value");
}

/// `as_it_is`: of another format, taken whatever it says.
void read_table(const toml::table& table, std::string_view name, bool as_it_is, Project& project) {
  for (const auto& [key, node] : table) {
    const std::string path =
        name == "kept" ? std::string(key.str()) : fmt::format("{}.{}", name, key.str());
    const project::Value value = value_of(key, node, path);
    const std::vector<project::Former> formers = project::former_keys();
    const bool former = std::any_of(formers.begin(), formers.end(),
                                    [&](const project::Former& f) { return f.old_path == path; });
    if (name != "kept" && !as_it_is && !former) try {
        (void)project::checked(path, value);
      } catch (const InputError& e) {
        throw InputError(place_of(key.source()), e.found(), e.expected(), e.remedy());
      }
    project::take(project, path, value);
  }
}

/// Each table of an array of tables, for example every [[offer]].
template <class OnTable>
void for_each_table(const toml::node& node, std::string_view name, OnTable&& on_table) {
  const toml::array* array = node.as_array();
  if (array == nullptr)
    refuse(node, fmt::format("[{}]", name), fmt::format("[[{}]] with double brackets", name),
           "write double brackets: there may be several");
  for (const toml::node& element : *array) {
    const toml::table* table = element.as_table();
    if (table == nullptr)
      refuse(element, fmt::format("a value in [[{}]]", name), "a table",
             fmt::format("write [[{}]] above its keys", name));
    on_table(*table);
  }
}

std::string offer_keys() {
  std::vector<std::string_view> keys;
  for (const project::OfferText& t : project::offer_texts()) keys.push_back(t.name);
  for (const project::OfferWhole& n : project::offer_wholes()) keys.push_back(n.name);
  for (const project::OfferNumber& n : project::offer_numbers()) keys.push_back(n.name);
  for (const project::OfferFlag& f : project::offer_flags()) keys.push_back(f.name);
  return fmt::format("{}", fmt::join(keys, ", "));
}

double number_within(const toml::node& node, std::string_view key, double min, double max,
                     bool whole) {
  const double value = number_of(node, key);
  if (!(value >= min && value <= max) || (whole && value != std::floor(value)))
    refuse(node, fmt::format("{} = {:g}", key, value),
           fmt::format("a {}number from {:g} to {:g}", whole ? "whole " : "", min, max),
           "correct the value");
  return value;
}

/// False where an offer has no such key.
bool read_offer_key(const toml::node& node, std::string_view key, Offer& offer) {
  for (const project::OfferText& t : project::offer_texts())
    if (t.name == key) return offer.*t.member = text_of(node, key), true;
  for (const project::OfferWhole& n : project::offer_wholes())
    if (n.name == key)
      return offer.*n.member = int(number_within(node, key, n.min, n.max, true)), true;
  for (const project::OfferNumber& n : project::offer_numbers())
    if (n.name == key) return offer.*n.member = number_within(node, key, n.min, n.max, false), true;
  for (const project::OfferFlag& f : project::offer_flags())
    if (f.name == key) {
      if (!node.is_boolean())
        refuse(node, fmt::format("{} that is neither true nor false", key), "true or false",
               fmt::format("write: {} = true", key));
      return offer.*f.member = *node.value<bool>(), true;
    }
  return false;
}

Offer read_offer(const toml::table& table) {
  Offer offer;
  for (const auto& [key, node] : table)
    if (!read_offer_key(node, key.str(), offer))
      throw InputError(place_of(key.source()), fmt::format("the key '{}' in [[offer]]", key.str()),
                       "one of: " + offer_keys(), "check the spelling, or take the line out");
  for (const project::OfferWhole& n : project::offer_wholes())
    if (offer.*n.member < n.min)
      throw InputError(place_of(table.source()), fmt::format("an offer without {}", n.name),
                       fmt::format("{}: {}", n.name, n.label),
                       fmt::format("add a line: {} = …", n.name));
  return offer;
}

project::Signature read_signature(const toml::table& table) {
  project::Signature s;
  for (const auto& [key, node] : table) {
    const std::string_view k = key.str();
    if (k == "what")
      s.what = text_of(node, k);
    else if (k == "by")
      s.by = text_of(node, k);
    else if (k == "on")
      s.on = text_of(node, k);
    else if (k == "value")
      s.value = number_of(node, k);
    else if (k == "note")
      s.note = text_of(node, k);
    else
      throw InputError(place_of(key.source()), fmt::format("the key '{}' in [[signed]]", k),
                       "one of: what, by, on, value, note",
                       "check the spelling, or take the line out");
  }
  return s;
}

void read_main(const std::string& text, Project& project) {
  toml::table root;
  try {
    root = toml::parse(std::string_view(text), main_file);
  } catch (const toml::parse_error& e) {
    throw InputError(place_of(e.source()), std::string(e.description()),
                     "TOML: tables in brackets, key = value", "correct the line");
  }
  std::int64_t format = text_format;
  if (const toml::node* said = root.get("format")) {
    const auto number = said->value<std::int64_t>();
    if (!number || *number < 1)
      refuse(*said, "a format that is no number", "format = 2", "take the line out");
    format = *number;
  }
  for (const auto& [key, node] : root) {
    const std::string_view name = key.str();
    if (name == "format") continue;
    if (name == "offer") {
      for_each_table(node, name,
                     [&](const toml::table& t) { project.offers.push_back(read_offer(t)); });
    } else if (name == "signed") {
      for_each_table(node, name, [&](const toml::table& t) {
        project.signatures.push_back(read_signature(t));
      });
    } else if (const toml::table* table = node.as_table()) {
      read_table(*table, name, format != text_format, project);
    } else {
      throw InputError(place_of(key.source()), fmt::format("'{}' outside a table", name),
                       "keys below a table such as [project]", "move the line below its table");
    }
  }
}

}  // namespace

namespace {

const std::string& whole_picture(const std::string& path, const std::string& bytes) {
  try {
    (void)look_at_picture(bytes);
    return bytes;
  } catch (const InputError& e) {
    throw e.in_file(path);
  }
}

}  // namespace

bool safe_file_name(std::string_view name) {
  if (name.empty() || name.size() > 200 || name.front() == '.') return false;
  for (const char c : name)
    if (c == '/' || c == '\\' || c == ':' || static_cast<unsigned char>(c) < 0x20 || c == '\x7f')
      return false;
  return true;
}

TextForm to_text(const Project& project) {
  TextForm files;
  files[std::string(main_file)] = write_settings(project) + write_lists(project);
  files["cells.csv"] = write_cells(project.cells);
  for (const project::File& f : project.logs) files["logs/" + f.name] = f.bytes;
  for (const project::File& f : project.photos) files["photos/" + f.name] = f.bytes;
  for (const project::File& f : project.series) files[f.name] = f.bytes;
  return files;
}

Project from_text(const TextForm& files) {
  Project project;
  const auto main = files.find(std::string(main_file));
  if (main == files.end())
    throw InputError({std::string(main_file), 0, 0}, "no project.toml",
                     "a folder with project.toml, and cells.csv and logs/ where there are any",
                     "name the folder that holds project.toml");
  read_main(main->second, project);
  if (const auto cells = files.find("cells.csv"); cells != files.end())
    project.cells = read_cells(cells->second, "cells.csv");
  for (const auto& [path, bytes] : files) {
    if (path.starts_with("logs/")) project.logs.push_back({path.substr(5), bytes});
    if (path.starts_with("photos/"))
      project.photos.push_back({path.substr(7), whole_picture(path, bytes)});
  }
  for (const std::string_view name : project::series_names)
    if (const auto found = files.find(std::string(name)); found != files.end())
      project.series.push_back({std::string(name), found->second});
  try {
    project::check(project);
  } catch (const InputError& e) {
    throw e.place().file.empty() ? e.in_file(std::string(main_file)) : e;
  }
  return project;
}

namespace {

/// One file of the folder. A link that leads out of it is not followed.
std::string read_inside(const std::filesystem::path& folder, const std::string& name,
                        std::uintmax_t most) {
  std::error_code error;
  const std::filesystem::path path = folder / name,
                              whole = std::filesystem::canonical(folder, error),
                              leads = std::filesystem::canonical(path, error);
  const auto [inside, rest] = std::mismatch(whole.begin(), whole.end(), leads.begin(), leads.end());
  if (!error && inside != whole.end())
    throw InputError({path.string(), 0, 0}, "a link that leads out of the folder",
                     "a file of the folder itself", "put the file itself there");
  return read_file(path, most);
}

}  // namespace

TextForm read_folder(const std::filesystem::path& folder) {
  constexpr std::uintmax_t most_text = 64u << 20, most_file = 256u << 20, most_in_all = 2u << 30;
  TextForm files;
  if (!std::filesystem::exists(folder / main_file))
    throw InputError({(folder / main_file).string(), 0, 0}, "no project.toml",
                     "a folder with project.toml, and cells.csv and logs/ where there are any",
                     "name the folder that holds project.toml");
  std::uintmax_t all = 0;
  const auto take = [&](const std::string& name, std::uintmax_t most) {
    const std::string& bytes = files[name] = read_inside(folder, name, most);
    all += bytes.size();
    if (all > most_in_all)
      throw InputError({folder.string(), 0, 0}, "more than 2048 MB in all",
                       "at most 2048 MB in all", "thin the longest logs");
  };
  take(std::string(main_file), most_text);
  if (std::filesystem::exists(folder / "cells.csv")) take("cells.csv", most_text);
  for (const std::string_view name : project::series_names)
    if (std::filesystem::exists(folder / name)) take(std::string(name), most_text);
  for (const char* inside : {"logs", "photos"})
    if (std::filesystem::is_directory(folder / inside))
      for (const auto& entry : std::filesystem::directory_iterator(folder / inside))
        if (const std::string name = entry.path().filename().string(); !name.starts_with('.')) {
          if (!safe_file_name(name) || base::to_utf8(name) != name)
            throw InputError({entry.path().string(), 0, 0}, fmt::format("a file named '{}'", name),
                             "a plain file name in UTF-8", "rename the file");
          take(fmt::format("{}/{}", inside, name), most_file);
        }
  return files;
}

void write_folder(const TextForm& files, const std::filesystem::path& folder) {
  if (std::filesystem::exists(folder / main_file))
    throw InputError({(folder / main_file).string(), 0, 0}, "a project that is there already",
                     "an empty or a new folder",
                     "choose another folder, so that nothing is overwritten");
  PendingFolder pending(folder);
  for (const auto& [path, bytes] : files) pending.add(path, bytes);
  pending.commit();
}

}  // namespace store
