// SPDX-License-Identifier: Apache-2.0
#include "store/text_form.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/picture.hpp"
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
  if (const auto* text = node.as_string()) {
    if (text->get().find('\0') != std::string::npos)
      refuse(node, fmt::format("{} with a zero sign", key), "a text", "take the sign out");
    return text->get();
  }
  refuse(node, fmt::format("{} that is no text", key), "a text", "put it in double quotes");
}

void read_table(const toml::table& table, std::string_view name, Project& project) {
  for (const auto& [key, node] : table) {
    Project::Value value;
    if (node.is_string())
      value = text_of(node, key.str());
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
    if (path.starts_with("photos/"))
      project.photos.push_back({path.substr(7), whole_picture(path, bytes)});
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
  for (const std::string_view name : works::series_names)
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
