// SPDX-License-Identifier: Apache-2.0
#include "store/text_form.hpp"

#include <array>
#include <cmath>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "works/settings.hpp"

#define TOML_HEADER_ONLY 0
#include <toml++/toml.h>

namespace store {
namespace {

using base::InputError;
using works::Offer;
using works::Project;

constexpr std::string_view main_file = "project.toml";

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

std::string write_settings(const Project& project) {
  std::string text;
  std::string_view table;
  for (const works::Setting& s : works::settings()) {
    const auto found = project.given.find(fmt::format("{}.{}", s.table, s.key));
    if (found == project.given.end()) continue;
    if (s.table != table) text += fmt::format("{}[{}]\n", text.empty() ? "" : "\n", s.table);
    table = s.table;
    if (const double* number = std::get_if<double>(&found->second))
      text += fmt::format("{} = {}\n", s.key, *number);
    else
      text += fmt::format("{} = {}\n", s.key, toml_text(std::get<std::string>(found->second)));
  }
  return text;
}

struct OfferNumber {
  std::string_view key;
  double Offer::*member;
};
constexpr std::array<OfferNumber, 12> offer_numbers = {
    OfferNumber{"unit_price", &Offer::unit_price},
    {"freight", &Offer::freight},
    {"insurance", &Offer::insurance},
    {"duty_percent", &Offer::duty_percent},
    {"vat_percent", &Offer::vat_percent},
    {"fees", &Offer::fees},
    {"rated_capacity_Ah", &Offer::rated_capacity_Ah},
    {"nominal_V", &Offer::nominal_V},
    {"rated_cycles", &Offer::rated_cycles},
    {"shelf_years", &Offer::shelf_years},
    {"round_trip_percent", &Offer::round_trip_percent},
    {"depth_percent", &Offer::depth_percent}};

std::string write_lists(const Project& project) {
  std::string text;
  for (const Offer& o : project.offers) {
    text += fmt::format("\n[[offer]]\nname = {}\nquantity = {}\n", toml_text(o.name), o.quantity);
    for (const OfferNumber& n : offer_numbers)
      if (o.*n.member != 0.0) text += fmt::format("{} = {}\n", n.key, o.*n.member);
    if (o.chosen) text += "chosen = true\n";
  }
  for (const works::Signature& s : project.signatures) {
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
  if (const auto* text = node.as_string()) return text->get();
  refuse(node, fmt::format("{} that is no text", key), "a text", "put it in double quotes");
}

void read_table(const toml::table& table, std::string_view name, Project& project) {
  for (const auto& [key, node] : table) {
    Project::Value value;
    if (const auto* text = node.as_string())
      value = text->get();
    else if (node.is_floating_point() || node.is_integer())
      value = *node.value<double>();
    else
      throw InputError(place_of(key.source()),
                       fmt::format("{}.{} that is neither number nor text", name, key.str()),
                       "a number or a text", "write one value");
    try {
      project.given[fmt::format("{}.{}", name, key.str())] = works::checked(name, key.str(), value);
    } catch (const InputError& e) {
      throw InputError(place_of(key.source()), e.found(), e.expected(), e.remedy());
    }
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

Offer read_offer(const toml::table& table) {
  Offer offer;
  for (const auto& [key, node] : table) {
    const std::string_view k = key.str();
    bool known = true;
    if (k == "name") {
      offer.name = text_of(node, k);
    } else if (k == "quantity") {
      const double n = number_of(node, k);
      if (n < 1 || n > 1e6 || n != std::floor(n))
        refuse(node, fmt::format("quantity = {:g}", n), "a whole number from 1 to 1000000",
               "say how many cells the offer is for");
      offer.quantity = static_cast<int>(n);
    } else if (k == "chosen") {
      if (!node.is_boolean())
        refuse(node, "chosen that is neither true nor false", "true or false",
               "write: chosen = true");
      offer.chosen = *node.value<bool>();
    } else {
      known = false;
      for (const OfferNumber& n : offer_numbers) {
        if (n.key != k) continue;
        known = true;
        offer.*n.member = number_of(node, k);
        const double most =
            k.ends_with("_percent") && k != "duty_percent" && k != "vat_percent" ? 100.0 : 1e9;
        if (!(offer.*n.member >= 0.0 && offer.*n.member <= most))
          refuse(node, fmt::format("{} = {:g}", k, offer.*n.member),
                 fmt::format("a number from 0 to {:g}", most), "correct the value");
      }
    }
    if (!known)
      throw InputError(place_of(key.source()), fmt::format("the key '{}' in [[offer]]", k),
                       "one of: name, unit_price, quantity, freight, insurance, duty_percent, "
                       "vat_percent, fees, rated_capacity_Ah, nominal_V, rated_cycles, "
                       "shelf_years, round_trip_percent, depth_percent, chosen",
                       "check the spelling, or take the line out");
  }
  if (offer.quantity == 0)
    throw InputError(place_of(table.source()), "an offer without quantity",
                     "quantity: how many cells", "add a line: quantity = …");
  return offer;
}

works::Signature read_signature(const toml::table& table) {
  works::Signature s;
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
  for (const auto& [key, node] : root) {
    const std::string_view name = key.str();
    if (name == "offer") {
      for_each_table(node, name,
                     [&](const toml::table& t) { project.offers.push_back(read_offer(t)); });
    } else if (name == "signed") {
      for_each_table(node, name, [&](const toml::table& t) {
        project.signatures.push_back(read_signature(t));
      });
    } else if (const toml::table* table = node.as_table()) {
      read_table(*table, name, project);
    } else {
      throw InputError(place_of(key.source()), fmt::format("'{}' outside a table", name),
                       "keys below a table such as [project]", "move the line below its table");
    }
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
  for (const works::File& f : project.logs) files["logs/" + f.name] = f.bytes;
  for (const works::File& f : project.photos) files["photos/" + f.name] = f.bytes;
  for (const works::File& f : project.series) files[f.name] = f.bytes;
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
    if (path.starts_with("photos/")) project.photos.push_back({path.substr(7), bytes});
  }
  for (const std::string_view name : works::series_names)
    if (const auto found = files.find(std::string(name)); found != files.end())
      project.series.push_back({std::string(name), found->second});
  try {
    works::check(project);
  } catch (const InputError& e) {
    throw e.place().file.empty() ? e.in_file(std::string(main_file)) : e;
  }
  return project;
}

TextForm read_folder(const std::filesystem::path& folder) {
  TextForm files;
  if (!std::filesystem::exists(folder / main_file))
    throw InputError({(folder / main_file).string(), 0, 0}, "no project.toml",
                     "a folder with project.toml, and cells.csv and logs/ where there are any",
                     "name the folder that holds project.toml");
  files[std::string(main_file)] = read_file(folder / main_file);
  if (std::filesystem::exists(folder / "cells.csv"))
    files["cells.csv"] = read_file(folder / "cells.csv");
  for (const std::string_view name : works::series_names)
    if (std::filesystem::exists(folder / name)) files[std::string(name)] = read_file(folder / name);
  for (const char* inside : {"logs", "photos"})
    if (std::filesystem::is_directory(folder / inside))
      for (const std::string& name : file_names(folder / inside))
        if (safe_file_name(name))
          files[fmt::format("{}/{}", inside, name)] = read_file(folder / inside / name);
  return files;
}

void write_folder(const TextForm& files, const std::filesystem::path& folder) {
  if (std::filesystem::exists(folder / main_file))
    throw InputError({(folder / main_file).string(), 0, 0}, "a project that is there already",
                     "an empty or a new folder",
                     "choose another folder, so that nothing is overwritten");
  make_folder(folder);
  for (const auto& [path, bytes] : files) {
    if (const std::size_t end = path.find('/'); end != std::string::npos)
      make_folder(folder / path.substr(0, end));
    if (path != main_file) write_file(folder / path, bytes);
  }
  write_file(folder / main_file,
             files.at(std::string(main_file)));  // last: a folder with it is whole
}

}  // namespace store
