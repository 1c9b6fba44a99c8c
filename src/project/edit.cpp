// SPDX-License-Identifier: Apache-2.0
#include "project/edit.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "project/fields.hpp"
#include "project/label.hpp"
#include "project/settings.hpp"

namespace project {
namespace {

using base::InputError;
using base::Json;
using PlaceOf = Place::Kind;

constexpr std::array<std::pair<PlaceOf, std::string_view>, 6> kinds = {
    std::pair{PlaceOf::setting, "setting"}, std::pair{PlaceOf::cell, "cell"},
    std::pair{PlaceOf::offer, "offer"},     std::pair{PlaceOf::log, "log"},
    std::pair{PlaceOf::series, "series"},   std::pair{PlaceOf::photo, "photo"}};

[[noreturn]] void refuse(const Place& place, std::string found, std::string expected,
                         std::string remedy) {
  throw InputError({in_words(place), 0, 0}, std::move(found), std::move(expected),
                   std::move(remedy));
}

double number_of(const Place& place, std::string_view field, const Json& value, double min,
                 double max) {
  const double x = value.is_number() ? value.get<double>() : std::nan("");
  if (!(x >= min && x <= max))
    refuse(
        place,
        fmt::format("{} as {}", value.dump(-1, ' ', false, Json::error_handler_t::replace), field),
        fmt::format("a number from {:g} to {:g}", min, max), "correct the value or its unit");
  return x;
}

std::string text_of(const Place& place, std::string_view field, const Json& value,
                    std::size_t most_bytes) {
  if (!value.is_string())
    refuse(
        place,
        fmt::format("{} as {}", value.dump(-1, ' ', false, Json::error_handler_t::replace), field),
        "a text", "write it as a text");
  std::string text = value.get<std::string>();
  if (text.size() > most_bytes)
    refuse(place, fmt::format("{} of {} bytes", field, text.size()),
           fmt::format("at most {} bytes", most_bytes), "shorten the text");
  if (text.find('\0') != std::string::npos)
    refuse(place, fmt::format("{} with a zero byte", field), "a text", "take it out");
  return text;
}

void put_field(const Place& place, std::string_view field, const Json& value, Cell& cell) {
  for (const CellNumber& n : cell_numbers())
    if (n.name == field) {
      cell.*n.member = value.is_null()
                           ? std::nullopt
                           : std::optional(number_of(place, field, value, n.min, n.max));
      return;
    }
  for (const CellText& t : cell_texts())
    if (t.name == field) {
      cell.*t.member = value.is_null() ? "" : text_of(place, field, value, t.most_bytes);
      return;
    }
  refuse(place, fmt::format("the field '{}'", field), "a field of a cell, such as mass_kg or note",
         "take one of these");
}

Json field_of(const Place& place, std::string_view field, const Cell& cell) {
  for (const CellNumber& n : cell_numbers())
    if (n.name == field) return cell.*n.member ? Json(*(cell.*n.member)) : Json(nullptr);
  for (const CellText& t : cell_texts())
    if (t.name == field) return (cell.*t.member).empty() ? Json(nullptr) : Json(cell.*t.member);
  refuse(place, fmt::format("the field '{}'", field), "a field of a cell, such as mass_kg or note",
         "take one of these");
}

/// The label under which a cell is put in. One that is there already keeps its own, whatever it is.
std::string label_for(const Project& project, const Place& place) {
  for (const Cell& c : project.cells)
    if (c.label == place.name) return place.name;
  try {
    return entered_label(place.name);
  } catch (const InputError& e) {
    throw e.in_file("the cell's label");
  }
}

Cell cell_from(const Place& place, const Json& json) {
  if (!json.is_object()) refuse(place, "a cell that is no object", "its fields", "send its fields");
  Cell cell;
  for (const auto& [key, value] : json.items())
    if (key != "position") put_field(place, key, value, cell);
  if (cell.label != place.name)
    refuse(place, fmt::format("the label '{}'", cell.label), "the label that the place names",
           "name the cell by its label");
  return cell;
}

void put_offer_field(const Place& place, const std::string& key, const Json& value, Offer& offer) {
  for (const OfferNumber& n : offer_numbers())
    if (n.name == key) return void(offer.*n.member = number_of(place, key, value, n.min, n.max));
  for (const OfferWhole& n : offer_wholes())
    if (n.name == key)
      return void(offer.*n.member = int(std::lround(number_of(place, key, value, n.min, n.max))));
  for (const OfferText& t : offer_texts())
    if (t.name == key) return void(offer.*t.member = text_of(place, key, value, t.most_bytes));
  for (const OfferFlag& f : offer_flags())
    if (f.name == key) return void(offer.*f.member = value.is_boolean() && value.get<bool>());
  refuse(place, fmt::format("the field '{}'", key), "a field of an offer", "leave it out");
}

Offer offer_from(const Place& place, const Json& json) {
  if (!json.is_object())
    refuse(place, "an offer that is no object", "its fields", "send its fields");
  Offer offer;
  for (const auto& [key, value] : json.items()) put_offer_field(place, key, value, offer);
  for (const OfferWhole& n : offer_wholes())  // a price without a number of cells is no offer yet
    if (offer.*n.member < n.min)
      refuse(place, fmt::format("{} = {}", n.name, offer.*n.member),
             fmt::format("{}: a number from {:g} to {:g}", n.label, n.min, n.max),
             "say how many cells the offer is for");
  return offer;
}

std::size_t index_of(const Place& place, std::size_t end) {
  std::size_t i = 0;
  const char* last = place.name.data() + place.name.size();
  const auto [rest, error] = std::from_chars(place.name.data(), last, i);
  if (error != std::errc() || rest != last || i > end)
    refuse(place, fmt::format("the offer number '{}'", place.name),
           fmt::format("a number from 0 to {}", end), "count the offers from 0");
  return i;
}

template <class Files>
auto file_named(Files& files, std::string_view name) {
  return std::find_if(files.begin(), files.end(), [&](const File& f) { return f.name == name; });
}

template <class Cells>
auto cell_named(Cells& cells, std::string_view label) {
  return std::find_if(cells.begin(), cells.end(), [&](const Cell& c) { return c.label == label; });
}

void put_setting(Project& project, const Place& place, const Json& value) {
  const Row* row = find_row(place.name);
  if (value.is_null()) {
    if (row != nullptr)
      at(project, *row).forget();
    else
      project.unknown.erase(place.name);
    return;
  }
  Value said = 0.0;
  if (value.is_string())
    said = text_of(place, place.name, value, 20000);
  else if (value.is_number())
    said = value.get<double>();
  else
    refuse(place, "a value that is neither number nor text", "a number or a text",
           "send one of these");
  Value good = checked(place.name, said);  // throws where there is no such row
  at(project, *row).say(std::move(good));
}

void put_cell(Project& project, const Place& place, const Json& value) {
  const auto found = cell_named(project.cells, place.name);
  if (!place.field.empty()) {
    if (found == project.cells.end())
      refuse(place, fmt::format("no cell '{}'", place.name), "a label of the lot",
             "look whether it was taken out");
    if (place.field == "label")
      refuse(place, "a label that changes", "a cell taken out and one put in", "do both");
    put_field(place, place.field, value, *found);
    return;
  }
  if (value.is_null()) {
    if (found != project.cells.end()) project.cells.erase(found);
    return;
  }
  Cell cell = cell_from(place, value);
  if (found != project.cells.end()) {
    *found = std::move(cell);
    return;
  }
  const std::size_t end = project.cells.size();
  const std::size_t at = value.contains("position") && value["position"].is_number_integer() &&
                                 value["position"].get<std::int64_t>() >= 0
                             ? std::min(value["position"].get<std::size_t>(), end)
                             : end;
  project.cells.insert(project.cells.begin() + static_cast<std::ptrdiff_t>(at), std::move(cell));
}

void put_offer(Project& project, const Place& place, const Json& value) {
  const std::size_t i = index_of(place, project.offers.size());
  const auto at = project.offers.begin() + static_cast<std::ptrdiff_t>(i);
  if (value.is_null()) {
    if (at != project.offers.end()) project.offers.erase(at);
    return;
  }
  Json plain = value;  // one that was taken out comes back where it stood
  const bool comes_back = plain.is_object() && plain.erase("inserted") > 0;
  Offer offer = offer_from(place, plain);
  if (comes_back || at == project.offers.end())
    project.offers.insert(at, std::move(offer));
  else
    *at = std::move(offer);
}

void put_file(std::vector<File>& files, const Place& place, const Content& content) {
  const auto found = file_named(files, place.name);
  if (content.value.is_null()) {
    if (found != files.end()) files.erase(found);
    return;
  }
  if (!content.bytes) refuse(place, "a file without its bytes", "the file", "send the file");
  if (found != files.end()) {
    found->bytes = *content.bytes;
    return;
  }
  const auto after =
      std::find_if(files.begin(), files.end(), [&](const File& f) { return f.name > place.name; });
  files.insert(after, {place.name, *content.bytes});
}

void put(Project& project, const Place& place, const Content& content) {
  switch (place.kind) {
    case PlaceOf::setting:
      return put_setting(project, place, content.value);
    case PlaceOf::cell:
      return put_cell(project, place, content.value);
    case PlaceOf::offer:
      return put_offer(project, place, content.value);
    case PlaceOf::log:
      return put_file(project.logs, place, content);
    case PlaceOf::series:
      return put_file(project.series, place, content);
    case PlaceOf::photo:
      return put_file(project.photos, place, content);
  }
}

Content file_content(const std::vector<File>& files, std::string_view name) {
  const auto found = file_named(files, name);
  if (found == files.end()) return {};
  return {{{"bytes", found->bytes.size()}}, std::make_shared<const std::string>(found->bytes)};
}

std::string shown(const Json& value) {
  return value.is_null() ? "nothing" : value.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace

std::string_view name(PlaceOf kind) {
  for (const auto& [k, word] : kinds)
    if (k == kind) return word;
  return "";
}

std::string in_words(const Place& place) {
  return fmt::format("{} {}{}{}", name(place.kind), place.name, place.field.empty() ? "" : ", ",
                     place.field);
}

Conflict::Conflict(Place place, Json mine, Json theirs)
    : place_(std::move(place)),
      mine_(std::move(mine)),
      theirs_(std::move(theirs)),
      text_(fmt::format("{} was changed elsewhere: it is {} now, not {}", in_words(place_),
                        shown(theirs_), shown(mine_))) {}

Content content_at(const Project& project, const Place& place) {
  switch (place.kind) {
    case PlaceOf::setting: {
      const auto json = [](const Value& value) {
        return Content{std::visit([](const auto& v) { return Json(v); }, value)};
      };
      const Row* row = find_row(place.name);
      if (row == nullptr) {
        const auto kept = project.unknown.find(place.name);
        if (kept == project.unknown.end()) (void)checked(place.name, 0.0);  // says which there are
        return json(kept->second);
      }
      const std::optional<Value>& said = at(project, *row).said();
      return said ? json(*said) : Content{};
    }
    case PlaceOf::cell: {
      const auto found = cell_named(project.cells, place.name);
      if (place.field.empty()) {
        if (found == project.cells.end()) return {};
        Json json = to_json(*found);
        json["position"] = found - project.cells.begin();
        return {json};
      }
      if (found == project.cells.end())
        refuse(place, fmt::format("no cell '{}'", place.name), "a label of the lot",
               "look whether it was taken out");
      return {field_of(place, place.field, *found)};
    }
    case PlaceOf::offer: {
      const std::size_t i = index_of(place, project.offers.size());
      if (i == project.offers.size()) return {};
      return {to_json(project.offers[i])};
    }
    case PlaceOf::log:
      return file_content(project.logs, place.name);
    case PlaceOf::series:
      return file_content(project.series, place.name);
    case PlaceOf::photo:
      return file_content(project.photos, place.name);
  }
  return {};
}

Project with_changes(Project project, const std::vector<Change>& changes) {
  for (const Change& c : changes) {
    // What comes back is put in; where a cell stands in the list is no part of what it is.
    const bool comes_back = c.after.value.is_object() && c.after.value.contains("inserted");
    Content now = content_at(project, c.place), before = c.before;
    for (const char* aside : {"inserted", "position"})
      for (Content* content : {&now, &before})
        if (content->value.is_object()) content->value.erase(aside);
    if (!comes_back && !(now == before)) throw Conflict(c.place, c.after.value, now.value);
    put(project, c.place, c.after);
  }
  check(project);
  return project;
}

std::vector<Change> inverse(std::vector<Change> changes) {
  std::reverse(changes.begin(), changes.end());
  for (Change& c : changes) {
    std::swap(c.before, c.after);
    if (c.place.kind == PlaceOf::offer && c.before.value.is_null() && c.after.value.is_object())
      c.after.value["inserted"] = true;
  }
  return changes;
}

std::vector<Change> read_changes(const Project& project, const Json& json) {
  std::vector<Change> changes;
  if (!json.is_array() || json.empty() || json.size() > 10000)
    throw InputError({"changes", 0, 0}, "no list of changes", "a list of 1 to 10000 changes",
                     "send what is to be changed");
  Project so_far = project;
  for (const Json& item : json) {
    const auto word = [&](const char* key) {
      return item.is_object() && item.contains(key) && item[key].is_string()
                 ? item[key].get<std::string>()
                 : std::string();
    };
    Change change{{PlaceOf::setting, word("name"), word("field")}, {}, {}};
    const std::string what = word("what");
    const auto* kind =
        std::find_if(kinds.begin(), kinds.end(), [&](const auto& k) { return k.second == what; });
    if (kind == kinds.end())
      throw InputError({"changes", 0, 0}, fmt::format("a change of '{}'", what),
                       "setting, cell, offer, log, series or photo", "take one of these");
    change.place.kind = kind->first;
    if (change.place.kind == PlaceOf::cell && change.place.field.empty() &&
        item.contains("after") && item["after"].is_object())
      change.place.name = label_for(so_far, change.place);
    change.after.value = item.contains("after") ? item["after"] : Json(nullptr);
    if (change.place.kind == PlaceOf::cell && change.after.value.is_object() &&
        change.after.value.contains("label") && change.after.value["label"] == word("name"))
      change.after.value["label"] = change.place.name;
    if (change.place.kind >= PlaceOf::log) {
      if (change.after.value.is_string() && change.place.kind != PlaceOf::photo) {
        change.after.bytes =
            std::make_shared<const std::string>(change.after.value.get<std::string>());
        change.after.value = {{"bytes", change.after.bytes->size()}};
      } else if (!change.after.value.is_null()) {
        refuse(change.place, "a file that is no text", "its text, or nothing", "upload it");
      }
    }
    change.before = content_at(so_far, change.place);
    if (item.contains("before")) {
      Json told = item["before"];
      const bool file = change.before.bytes != nullptr;
      if (file && told.is_string() ? told.get<std::string>() != *change.before.bytes
                                   : !file && told != change.before.value)
        throw Conflict(change.place, item.contains("after") ? item["after"] : Json(nullptr),
                       file ? Json(*change.before.bytes) : change.before.value);
    }
    put(so_far, change.place, change.after);
    if (!change.after.bytes && !change.after.value.is_null())
      change.after = content_at(so_far, change.place);  // as it is kept: whole, with its position
    changes.push_back(std::move(change));
  }
  return changes;
}

Json to_json(const Cell& cell) {
  Json json = Json::object();
  for (const CellText& t : cell_texts())
    json[std::string(t.name)] = (cell.*t.member).empty() ? Json(nullptr) : Json(cell.*t.member);
  for (const CellNumber& n : cell_numbers())
    json[std::string(n.name)] = cell.*n.member ? Json(*(cell.*n.member)) : Json(nullptr);
  return json;
}

Json to_json(const Offer& offer) {
  Json json = Json::object();
  for (const OfferText& t : offer_texts()) json[std::string(t.name)] = offer.*t.member;
  for (const OfferWhole& n : offer_wholes()) json[std::string(n.name)] = offer.*n.member;
  for (const OfferFlag& f : offer_flags()) json[std::string(f.name)] = offer.*f.member;
  for (const OfferNumber& n : offer_numbers()) json[std::string(n.name)] = offer.*n.member;
  return json;
}

Json to_json(const Project& project) {
  Json given = Json::object(), cells = Json::array(), offers = Json::array(),
       signatures = Json::array();
  for (const Row* row : catalogue())
    if (const std::optional<Value>& said = at(project, *row).said())
      std::visit([&](const auto& v) { given[row->path()] = v; }, *said);
  for (const auto& [path, value] : project.unknown)
    std::visit([&, &p = path](const auto& v) { given[p] = v; }, value);
  for (const Cell& c : project.cells) cells.push_back(to_json(c));
  for (const Offer& o : project.offers) offers.push_back(to_json(o));
  for (const Signature& s : project.signatures)
    signatures.push_back({{"what", s.what},
                          {"by", s.by},
                          {"on", s.on},
                          {"value", s.value ? Json(*s.value) : Json(nullptr)},
                          {"note", s.note}});
  const auto files = [](const std::vector<File>& list) {
    Json json = Json::array();
    for (const File& f : list) json.push_back({{"name", f.name}, {"bytes", f.bytes.size()}});
    return json;
  };
  return {{"given", std::move(given)},      {"cells", std::move(cells)},
          {"offers", std::move(offers)},    {"signatures", std::move(signatures)},
          {"logs", files(project.logs)},    {"series", files(project.series)},
          {"photos", files(project.photos)}};
}

}  // namespace project
