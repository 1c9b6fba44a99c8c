// SPDX-License-Identifier: Apache-2.0
#include "server/api.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

#include "base/input_error.hpp"
#include "book/content.hpp"
#include "book/html.hpp"
#include "book/labels.hpp"
#include "book/lot_pages.hpp"
#include "book/pdf.hpp"
#include "commission/checklists.hpp"
#include "project/fields.hpp"
#include "project/settings.hpp"
#include "store/cell_table.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"
#include "works/examples.hpp"
#include "works/reckonings.hpp"
#include "works/steps.hpp"
#include "works/worklist.hpp"

namespace server {

using base::InputError;
using base::Json;
using project::Place;

namespace {

std::string dumped(const Json& json) {
  return json.dump(-1, ' ', false, Json::error_handler_t::replace);
}

/// Objects and arrays in each other, counted before they are parsed.
bool too_deep(std::string_view text, int most) {
  int depth = 0;
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      if (c == '\\')
        ++i;
      else if (c == '"')
        quoted = false;
    } else if (c == '"') {
      quoted = true;
    } else if (c == '[' || c == '{') {
      if (++depth > most) return true;
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return false;
}

/// The key of a request whose body may be empty.
std::string key_of(const Ask& ask) {
  return ask.body.empty() ? std::string() : text_in(body_of(ask), "key");
}

/// What a bench device may change: readings, logs and photos, not what the bank is; and it takes
/// nothing out.
bool bench_may(const project::Change& change) {
  const Place& place = change.place;
  if (change.after.value.is_null() && place.field.empty()) return false;
  return place.kind == Place::Kind::cell || place.kind == Place::Kind::log ||
         place.kind == Place::Kind::photo;
}

std::string_view name(project::Row::Kind kind) {
  using Kind = project::Row::Kind;
  return kind == Kind::number  ? "number"
         : kind == Kind::whole ? "whole"
         : kind == Kind::text  ? "text"
                               : "choice";
}

Json settings_json() {
  Json list = Json::array();
  for (const project::Row* row : project::catalogue()) {
    Json codes = Json::array(), words = Json::object();
    for (const project::Choice& c : row->choices)
      codes.push_back(c.code), words[std::string(c.code)] = c.words;
    list.push_back({{"path", row->path()},
                    {"kind", name(row->kind)},
                    {"unit", row->unit},
                    {"min", row->min},
                    {"max", row->max},
                    {"fallback", row->usual().empty() ? Json(nullptr) : Json(row->usual())},
                    {"required", row->must_be_said},
                    {"text", row->label},
                    {"help", row->help},
                    {"step", base::name(row->step)},
                    {"basis", row->basis},
                    {"choices", std::move(codes)},
                    {"words", std::move(words)}});
  }
  return list;
}

Json reckonings_json() {
  using Kind = base::InputSpec::Kind;
  Json list = Json::array();
  for (const base::Reckoning& r : works::reckonings()) {
    Json inputs = Json::array(), outputs = Json::array();
    for (const base::InputSpec& i : r.inputs)
      inputs.push_back({{"key", i.key},
                        {"unit", i.unit},
                        {"text", i.text},
                        {"min", i.min},
                        {"max", i.max},
                        {"kind", i.kind == Kind::number  ? "number"
                                 : i.kind == Kind::whole ? "whole"
                                 : i.kind == Kind::list  ? "list"
                                 : i.kind == Kind::text  ? "text"
                                                         : "choice"},
                        {"fallback", i.fallback ? Json(*i.fallback) : Json(nullptr)},
                        {"optional", i.optional},
                        {"choices", i.choices}});
    for (const base::OutputSpec& o : r.outputs)
      outputs.push_back({{"key", o.key}, {"unit", o.unit}, {"text", o.text}});
    list.push_back({{"name", r.name},
                    {"title", r.title},
                    {"inputs", std::move(inputs)},
                    {"outputs", std::move(outputs)},
                    {"formula", r.formula},
                    {"source", r.source},
                    {"validity", r.validity},
                    {"cautions", r.cautions},
                    {"example", r.example}});
  }
  return list;
}

/// Everything that does not change while the program runs.
std::string known_text() {
  Json fields = Json::array(), examples = Json::array(), references = Json::object();
  for (const project::CellNumber& n : project::cell_numbers())
    fields.push_back(
        {{"name", n.name}, {"unit", n.unit}, {"text", n.label}, {"min", n.min}, {"max", n.max}});
  for (const works::Example& e : works::examples())
    examples.push_back({{"name", e.name}, {"title", e.title}});
  Json settings = settings_json(), reckonings = reckonings_json();
  for (const std::string& key : book::reference_keys(dumped(settings) + dumped(reckonings)))
    references[key] = book::reference_text(key);
  return dumped({{"settings", std::move(settings)},
                 {"reckonings", std::move(reckonings)},
                 {"cell_numbers", std::move(fields)},
                 {"series", project::series_names},
                 {"examples", std::move(examples)},
                 {"references", std::move(references)},
                 {"cautions", commission::cautions()},
                 {"defer", commission::defer}});
}

}  // namespace

const std::string& Ask::asked(std::string_view key) const {
  static const std::string nothing;
  const auto found = query.find(key);
  return found == query.end() ? nothing : found->second;
}

Answer json_answer(const Json& json, int status) {
  Answer answer;
  answer.status = status;
  answer.body = dumped(json);
  return answer;
}

Answer answer_of(const std::exception& error) {
  if (const auto* conflict = dynamic_cast<const project::Conflict*>(&error))
    return json_answer({{"conflict",
                         {{"what", project::name(conflict->place().kind)},
                          {"name", conflict->place().name},
                          {"field", conflict->place().field},
                          {"mine", conflict->mine()},
                          {"theirs", conflict->theirs()},
                          {"sentence", conflict->what()}}}},
                       409);
  if (dynamic_cast<const KeyUsed*>(&error) != nullptr)
    return json_answer({{"conflict",
                         {{"what", "request"},
                          {"name", "key"},
                          {"field", ""},
                          {"mine", nullptr},
                          {"theirs", nullptr},
                          {"sentence", "this request came before with another content"}}}},
                       409);
  if (const auto* input = dynamic_cast<const InputError*>(&error))
    return json_answer({{"error",
                         {{"where", input->place().file},
                          {"line", input->place().line},
                          {"column", input->place().column},
                          {"found", input->found()},
                          {"expected", input->expected()},
                          {"remedy", input->remedy()}}}},
                       422);
  return json_answer({{"error",
                       {{"where", ""},
                        {"line", 0},
                        {"column", 0},
                        {"found", "a fault of Packhouse's own"},
                        {"expected", "an answer"},
                        {"remedy", "what you had is kept; the terminal says more"}}}},
                     500);
}

Json body_of(const Ask& ask) {
  if (too_deep(ask.body, 64))
    throw InputError({"request", 0, 0}, "JSON deeper than 64", "JSON of a sane shape",
                     "send it flatter");
  // One key twice: which of the two holds would be a guess.
  std::vector<std::set<std::string>> keys;
  std::string twice;
  const auto look = [&](int, Json::parse_event_t event, Json& parsed) {
    if (event == Json::parse_event_t::object_start) keys.emplace_back();
    if (event == Json::parse_event_t::object_end) keys.pop_back();
    if (event == Json::parse_event_t::key && twice.empty() &&
        !keys.back().insert(parsed.get<std::string>()).second)
      twice = parsed.get<std::string>();
    return true;
  };
  Json json = Json::parse(ask.body, look, false);
  if (!twice.empty())
    throw InputError({"request", 0, 0}, fmt::format("the key '{}' twice in one object", twice),
                     "every key once", "send it once");
  if (json.is_discarded())
    throw InputError({"request", 0, 0}, "a body that is no JSON", "a JSON object", "send JSON");
  if (!json.is_object())
    throw InputError({"request", 0, 0}, "JSON that is no object", "a JSON object",
                     "send an object");
  return json;
}

Desk::Sent sent_with(const Ask& ask, const std::string& key) {
  if (key.empty()) return {};
  if (key.size() > 200)
    throw InputError({"request", 0, 0}, "a key of more than 200 bytes", "a short key",
                     "send a shorter one");
  std::string what = ask.method + ' ' + ask.path;
  for (const auto& [name, value] : ask.query) what += fmt::format("&{}={}", name, value);
  return {key, store::sha256(what + '\n' + ask.body)};
}

std::string text_in(const Json& json, std::string_view key) {
  const auto found = json.find(std::string(key));
  return found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
}

Api::Api(Desk& desk, Access& access, std::mutex& access_mutex, Jobs& jobs,
         Circumstances circumstances)
    : desk_(desk),
      access_(access),
      access_mutex_(access_mutex),
      jobs_(jobs),
      circumstances_(std::move(circumstances)) {}

const std::vector<Api::Route>& Api::routes() {
  using Who = Route::Who;
  static const std::vector<Route> all = {
      {"POST", "/api/enter", Who::anybody, &Api::enter},
      {"POST", "/api/pair", Who::anybody, &Api::pair},
      {"GET", "/api/pairing", Who::owner, &Api::pairing},
      {"POST", "/api/pairing/open", Who::owner, &Api::open_pairing},
      {"POST", "/api/pairing/close", Who::owner, &Api::close_pairing},
      {"POST", "/api/devices/revoke", Who::owner, &Api::revoke},
      {"POST", "/api/devices/role", Who::owner, &Api::role},
      {"POST", "/api/link", Who::owner, &Api::link},
      {"GET", "/api/state", Who::bench, &Api::state},
      {"POST", "/api/begin", Who::owner, &Api::begin},
      {"GET", "/api/project", Who::bench, &Api::project},
      {"POST", "/api/changes", Who::bench, &Api::changes},
      {"POST", "/api/undo", Who::owner, &Api::undo},
      {"POST", "/api/redo", Who::owner, &Api::redo},
      {"GET", "/api/plan", Who::bench, &Api::plan},
      {"GET", "/api/known", Who::bench, &Api::known},
      {"POST", "/api/reckon", Who::bench, &Api::reckon},
      {"GET", "/api/series", Who::bench, &Api::series},
      {"GET", "/api/circuit-tables", Who::bench, &Api::circuit_tables},
      {"GET", "/api/checklists", Who::bench, &Api::checklists},
      {"POST", "/api/sign", Who::bench, &Api::sign},
      {"POST", "/api/ticket", Who::bench, &Api::ticket},
      {"GET", "/api/curves", Who::bench, &Api::curves},
      {"GET", "/api/logs", Who::bench, &Api::log_series},
      {"POST", "/api/logs/look", Who::bench, &Api::look_at_log},
      {"POST", "/api/logs/keep", Who::bench, &Api::keep_log},
      {"GET", "/api/photos", Who::bench, &Api::photo},
      {"POST", "/api/photos/keep", Who::bench, &Api::keep_photo},
      {"POST", "/api/exchange", Who::owner, &Api::exchange},
      {"POST", "/api/what-if/places", Who::bench, &Api::what_if_places},
      {"POST", "/api/what-if/plan", Who::bench, &Api::what_if_plan},
      {"GET", "/api/year", Who::bench, &Api::year},
      {"GET", "/api/drawing", Who::bench, &Api::drawing},
      {"POST", "/api/jobs", Who::bench, &Api::start_job},
      {"GET", "/api/jobs", Who::bench, &Api::job},
      {"POST", "/api/jobs/stop", Who::bench, &Api::stop_job}};
  return all;
}

bool Api::for_anybody(std::string_view path) {
  for (const Route& r : routes())
    if (r.path == path) return r.who == Route::Who::anybody;
  return false;
}

std::optional<Refusal> Api::refuse(const Ask& ask) const {
  bool path_known = false;
  for (const Route& r : routes()) {
    if (r.path != ask.path) continue;
    path_known = true;
    if (r.method != ask.method) continue;
    if (r.who == Route::Who::anybody) return std::nullopt;
    if (!ask.device) return Refusal{401, "no token, or an old one"};
    if (r.who == Route::Who::owner && ask.device->role != Role::owner)
      return Refusal{403, "a bench device"};
    return std::nullopt;
  }
  return path_known ? Refusal{405, "another method"} : Refusal{404, "no such path"};
}

void Api::answer(const Ask& ask, const Reply& reply) {
  for (const Route& r : routes()) {
    if (r.path != ask.path || r.method != ask.method) continue;
    try {
      (this->*r.run)(ask, reply);
    } catch (const std::exception& e) {
      if (dynamic_cast<const InputError*>(&e) == nullptr &&
          dynamic_cast<const project::Conflict*>(&e) == nullptr &&
          dynamic_cast<const KeyUsed*>(&e) == nullptr)
        fmt::print(stderr, "packhouse: {} {}: {}\n", ask.method, ask.path, e.what());
      reply(answer_of(e));
    }
    return;
  }
  reply({404, "text/plain; charset=utf-8", "", {}});
}

std::shared_ptr<const project::Project> Api::open_project() const {
  auto project = desk_.state().project;
  if (!project)
    throw InputError({desk_.file().filename().string(), 0, 0}, "a project that has not begun",
                     "its first figures", "begin it on the first page");
  return project;
}

Planned Api::open_plan() {
  (void)open_project();
  Planned planned = desk_.planned();
  if (!planned.plan)
    throw InputError({"plan", 0, 0}, planned.why, "a project that can be planned",
                     "mend what it says, or take the last change back");
  return planned;
}

void Api::state(const Ask& ask, const Reply& reply) {
  const Desk::State s = desk_.state();
  Json devices = Json::array();
  {
    const std::lock_guard lock(access_mutex_);
    if (ask.device->role == Role::owner)
      for (const Device& d : access_.devices())
        devices.push_back({{"id", d.id},
                           {"name", d.name},
                           {"role", server::name(d.role)},
                           {"paired", d.paired},
                           {"this", d.id == ask.device->id}});
  }
  reply(json_answer({{"begun", s.project != nullptr},
                     {"revision", s.revision},
                     {"planned", s.planned},
                     {"name", s.project ? s.project->about.name() : ""},
                     {"file", desk_.file().filename().string()},
                     {"undo", s.undo},
                     {"redo", s.redo},
                     {"today", circumstances_.today()},
                     {"role", server::name(ask.device->role)},
                     {"lan_address", circumstances_.lan_address},
                     {"encrypted", circumstances_.encrypted},
                     {"fingerprint", circumstances_.fingerprint},
                     {"devices", std::move(devices)}}));
}

void Api::begin(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  if (const std::string example = text_in(body, "example"); !example.empty()) {
    const auto& all = works::examples();
    if (std::none_of(all.begin(), all.end(), [&](const auto& e) { return e.name == example; }))
      throw InputError({"example", 0, 0}, fmt::format("'{}'", example),
                       "smallholding, cabin or workshop", "take one of these");
    desk_.begin(store::from_text(works::example_files(example)));
  } else {
    project::Project project;
    const auto given = body.find("given");
    if (given == body.end() || !given->is_object())
      throw InputError({"request", 0, 0}, "neither example nor given",
                       "an example's name, or the first settings", "send one of the two");
    for (const auto& [path, value] : given->items()) {
      project::Value said = 0.0;
      if (value.is_string())
        said = value.get<std::string>();
      else if (value.is_number())
        said = value.get<double>();
      else
        throw InputError({path, 0, 0}, "a value that is neither number nor text",
                         "a number or a text", "send one of these");
      said = project::checked(path, said);
      at(project, *project::find_row(path)).say(std::move(said));
    }
    desk_.begin(std::move(project));
  }
  reply(json_answer({{"revision", desk_.state().revision}}));
}

void Api::project(const Ask&, const Reply& reply) {
  const Desk::State s = desk_.state();
  (void)open_project();
  Json json = project::to_json(*s.project);
  json["revision"] = s.revision;
  reply(json_answer(json));
}

void Api::changes(const Ask& ask, const Reply& reply) {
  (void)open_project();
  const Json body = body_of(ask);
  const bool bench = ask.device->role == Role::bench;
  const std::uint64_t revision = desk_.change(
      [&](const project::Project& project) {
        auto changes =
            project::read_changes(project, body.contains("changes") ? body["changes"] : Json());
        if (bench)
          for (const project::Change& c : changes)
            if (!bench_may(c))
              throw InputError({project::in_words(c.place), 0, 0}, "a change by a bench device",
                               "readings, logs and photos",
                               "make it on the computer, or let this device do everything there");
        for (const project::Change& c : changes)
          if (c.place.kind == Place::Kind::series &&
              std::find(project::series_names.begin(), project::series_names.end(), c.place.name) ==
                  project::series_names.end())
            throw InputError({c.place.name, 0, 0}, "a table that no step reads",
                             fmt::format("one of: {}", fmt::join(project::series_names, ", ")),
                             "give it one of these names");
        return changes;
      },
      text_in(body, "words"), sent_with(ask, text_in(body, "key")));
  reply(json_answer({{"revision", revision}}));
}

void Api::undo(const Ask& ask, const Reply& reply) {
  (void)open_project();
  reply(json_answer({{"revision", desk_.undo(sent_with(ask, key_of(ask)))}}));
}

void Api::redo(const Ask& ask, const Reply& reply) {
  (void)open_project();
  reply(json_answer({{"revision", desk_.redo(sent_with(ask, key_of(ask)))}}));
}

void Api::plan(const Ask& ask, const Reply& reply) {
  (void)open_project();
  std::uint64_t at = 0;
  for (const char c : ask.asked("at"))
    if (c >= '0' && c <= '9' && at < 1000000000) at = at * 10 + static_cast<std::uint64_t>(c - '0');
  at = std::min(at, desk_.state().revision);
  desk_.when_planned(at, [reply](const Planned& p) {
    Json json = {{"revision", p.revision},
                 {"why", p.plan ? Json(nullptr) : Json(p.why)},
                 {"plan", p.plan ? works::to_json(*p.plan) : Json(nullptr)}};
    reply(json_answer(json));
  });
}

void Api::known(const Ask&, const Reply& reply) {
  static const std::string text = known_text();
  reply({200, "application/json; charset=utf-8", text, {}});
}

void Api::reckon(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::string name = text_in(body, "name");
  const base::Reckoning* r = works::find_reckoning(name);
  if (r == nullptr)
    throw InputError({"reckon", 0, 0}, fmt::format("no reckoning '{}'", name),
                     "a name of the register", "take one of the list");
  std::vector<std::string> typed;
  if (body.contains("inputs") && body["inputs"].is_object())
    for (const auto& [key, value] : body["inputs"].items())
      if (value.is_string() && !value.get<std::string>().empty())
        typed.push_back(key + "=" + value.get<std::string>());
  reply(json_answer(
      base::run_to_json(*r, base::read_arguments(*r, std::span<const std::string>(typed)))));
}

void Api::series(const Ask& ask, const Reply& reply) {
  const auto project = open_project();
  const project::File* file = project::series_file(*project, ask.asked("name"));
  reply(json_answer({{"name", ask.asked("name")},
                     {"text", file != nullptr ? Json(file->bytes) : Json(nullptr)}}));
}

void Api::circuit_tables(const Ask&, const Reply& reply) {
  const Planned p = open_plan();
  const auto table = [&](const char* name, std::string made) {
    const project::File* file = project::series_file(*p.project, name);
    return Json{{"given", file != nullptr},
                {"text", file != nullptr ? file->bytes : std::move(made)}};
  };
  const wiring::Circuit& c = p.plan->circuit.circuit;
  reply(json_answer({{"runs", table("runs.csv", wiring::write_runs(c.runs))},
                     {"devices", table("devices.csv", wiring::write_devices(c.devices))}}));
}

void Api::checklists(const Ask&, const Reply& reply) {
  const Planned p = open_plan();
  reply(json_answer({{"revision", p.revision},
                     {"lists", works::to_json(works::work_lists(*p.project, *p.plan))}}));
}

void Api::sign(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  project::Signature s{
      text_in(body, "what"), text_in(body, "by"), text_in(body, "on"), {}, text_in(body, "note")};
  if (s.on.empty()) {
    s.on = circumstances_.today();
    if (const auto doubt = works::doubt_about_today(*open_project(), s.on))
      throw InputError({"sign", 0, 0}, *doubt, "the day of the signature",
                       "look at the computer's clock, or say the day");
  }
  if (body.contains("value") && body["value"].is_number()) s.value = body["value"].get<double>();
  if (s.by.size() > 200 || s.note.size() > 20000)
    throw InputError({"sign", 0, 0}, "a name or a note that is too long",
                     "200 bytes and 20000 bytes", "shorten it");
  reply(json_answer({{"revision", desk_.sign(s, sent_with(ask, text_in(body, "key")))}}));
}

void Api::ticket(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::string what = text_in(body, "document");
  constexpr std::string_view documents[] = {"book.html", "book.pdf",         "claim.html",
                                            "claim.pdf", "labels.pdf",       "labels.html",
                                            "cells.csv", "project.packhouse"};
  if (std::find(std::begin(documents), std::end(documents), what) == std::end(documents))
    throw InputError({"ticket", 0, 0}, fmt::format("no document '{}'", what),
                     fmt::format("one of: {}", fmt::join(documents, ", ")), "take one of these");
  (void)open_project();
  if (what == "project.packhouse" && ask.device->role == Role::bench)
    throw InputError({"ticket", 0, 0}, "a copy of the project for a bench device",
                     "the book, sheets and the lot", "take the copy on the computer");
  const std::lock_guard lock(access_mutex_);
  reply(json_answer({{"address", fmt::format("/t/{}/{}", access_.ticket(what, ask.now_s), what)}}));
}

Answer Api::document(const std::string& what) {
  try {
    const Planned p = open_plan();
    const std::string day = circumstances_.today();
    const bool html = what.ends_with(".html"), pdf = what.ends_with(".pdf");
    Answer answer;
    answer.document = true;
    if (html || pdf) {
      const std::string name = what.substr(0, what.rfind('.'));
      std::map<std::string, std::string> hashes;
      if (name == "claim")
        for (const works::CellResult& c : p.plan->cells)
          for (const project::File& f : p.project->logs)
            if (f.name == c.log) hashes[c.label] = store::sha256(f.bytes);
      const book::Document document = name == "book" ? book::compose(*p.project, *p.plan, day)
                                      : name == "claim"
                                          ? book::compose_claim(*p.project, *p.plan, hashes, day)
                                          : book::compose_labels(*p.project, *p.plan, day);
      answer.body = html ? book::to_html(document) : book::to_pdf(document);
      answer.type = html ? "text/html; charset=utf-8" : "application/pdf";
    } else if (what == "cells.csv") {
      answer.body = store::write_cells(p.project->cells);
      answer.type = "text/csv; charset=utf-8";
    } else {
      // A whole copy, made elsewhere: what is in use is never opened by other means, and its own
      // disk may be full.
      const store::ScratchFile copy("project.packhouse");
      desk_.copy_to(copy.path());
      answer.body = store::read_file(copy.path());
      answer.type = "application/vnd.sqlite3";
    }
    if (!html)
      answer.headers.emplace_back("Content-Disposition",
                                  fmt::format("attachment; filename=\"{}\"", what));
    return answer;
  } catch (const std::exception& e) {
    return {422, "text/plain; charset=utf-8", e.what(), {}, true};
  }
}

}  // namespace server
