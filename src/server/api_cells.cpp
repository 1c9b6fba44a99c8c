// SPDX-License-Identifier: Apache-2.0
// Cells, their logs and places, and what would be.
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "base/encoding.hpp"
#include "base/input_error.hpp"
#include "base/number.hpp"
#include "bench/incremental.hpp"
#include "bench/measure.hpp"
#include "book/diagram.hpp"
#include "book/plates.hpp"
#include "commission/checklists.hpp"
#include "drawing/thin.hpp"
#include "logs/read_log.hpp"
#include "match/assignment_json.hpp"
#include "match/what_if.hpp"
#include "server/api.hpp"
#include "store/picture.hpp"
#include "store/text_form.hpp"
#include "works/house.hpp"
#include "works/twin.hpp"
#include "works/what_if.hpp"

namespace server {

using base::InputError;
using base::Json;
using project::Place;

namespace {

double rounded(double x, double per_one) { return std::round(x * per_one) / per_one; }

/// A number of the query, or what stands for it.
double number_asked(const Ask& ask, std::string_view key, double otherwise) {
  const auto value = base::parse_number(ask.asked(key));
  return value ? *value : otherwise;
}

/// The columns of a log between two times, thin enough to draw.
Json thinned_series(const logs::Log& log, double from_s, double to_s, std::size_t most) {
  const auto first = static_cast<std::size_t>(
      std::lower_bound(log.time_s.begin(), log.time_s.end(), from_s) - log.time_s.begin());
  const auto last = static_cast<std::size_t>(
      std::upper_bound(log.time_s.begin(), log.time_s.end(), to_s) - log.time_s.begin());
  Json lines = Json::array();
  const auto add = [&](const char* name, const char* unit, const std::vector<double>& values,
                       double sign) {
    if (values.size() != log.time_s.size() || last <= first) return;
    const std::span<const double> part(values.data() + first, last - first);
    Json t = Json::array(), y = Json::array();
    for (const std::size_t i : drawing::thinned(part, most)) {
      if (!std::isfinite(part[i])) continue;
      t.push_back(rounded(log.time_s[first + i], 100.0));
      y.push_back(rounded(sign * part[i], 1e4));
    }
    lines.push_back(
        {{"name", name}, {"unit", unit}, {"time_s", std::move(t)}, {"values", std::move(y)}});
  };
  add("voltage", "V", log.voltage_V, 1.0);
  add("current, discharging above zero", "A", log.current_A, 1.0);
  add("temperature", "°C", log.temperature_C, 1.0);
  return {{"rows", last - first},
          {"of_rows", log.time_s.size()},
          {"from_s", log.time_s.empty() ? 0.0 : log.time_s.front()},
          {"to_s", log.time_s.empty() ? 0.0 : log.time_s.back()},
          {"lines", std::move(lines)}};
}

std::size_t points_asked(const Ask& ask) {
  return static_cast<std::size_t>(std::clamp(number_asked(ask, "points", 2000.0), 8.0, 20000.0));
}

const project::File& log_named(const project::Project& project, const std::string& name) {
  for (const project::File& f : project.logs)
    if (f.name == name) return f;
  throw InputError({"logs", 0, 0}, fmt::format("no log '{}'", name), "a log of the project",
                   "look whether it was taken out");
}

/// The log of a project that was read last: zooming asks for one again and again.
std::shared_ptr<const logs::Log> read_once(const project::File& file,
                                           const logs::ReadOptions& options) {
  static std::mutex mutex;
  static std::string name;
  static std::size_t hash = 0;
  static std::shared_ptr<const logs::Log> last;
  const std::size_t now = std::hash<std::string_view>{}(file.bytes);
  const std::lock_guard lock(mutex);
  if (last && name == file.name && hash == now) return last;
  logs::ReadResult result = logs::read_log(file.bytes, options);
  auto* log = std::get_if<logs::Log>(&result);
  if (log == nullptr)
    throw InputError({file.name, 0, 0}, "a log that can be read in two ways", "one way to read it",
                     "say which under Test");
  name = file.name, hash = now;
  last = std::make_shared<const logs::Log>(std::move(*log));
  return last;
}

/// The first lines as they stand in the file, for the eye.
Json first_lines(std::string_view bytes) {
  Json lines = Json::array();
  const std::string text = base::to_utf8(std::string(bytes.substr(0, 4000)));
  for (std::size_t from = 0; from < text.size() && lines.size() < 8;) {
    const std::size_t end = std::min(text.find('\n', from), text.size());
    std::string line = text.substr(from, std::min<std::size_t>(end - from, 300));
    if (!line.empty() && line.back() == '\r') line.pop_back();
    lines.push_back(line);
    from = end + 1;
  }
  return lines;
}

void check_name(const std::string& name) {
  if (!store::safe_file_name(name) || base::to_utf8(name) != name)
    throw InputError({"file", 0, 0}, fmt::format("a file named '{}'", name), "a plain file name",
                     "rename the file");
}

/// By its own bytes, whatever it is called; refused where it cannot be shown.
std::string_view picture_ending(std::string_view bytes) {
  try {
    return store::look_at_picture(bytes).ending;
  } catch (const InputError& e) {
    throw e.in_file("photo");
  }
}

Place file_place(Place::Kind kind, std::string name) { return {kind, std::move(name), ""}; }

project::Change put_file(const project::Project& project, const Place& place,
                         const std::string& bytes) {
  project::Change change{place, project::content_at(project, place), {}};
  change.after.bytes = std::make_shared<const std::string>(bytes);
  change.after.value = {{"bytes", bytes.size()}};
  return change;
}

std::size_t index_of(const std::vector<match::Candidate>& cells, const std::string& label) {
  for (std::size_t i = 0; i < cells.size(); ++i)
    if (cells[i].label == label) return i;
  throw InputError({"places", 0, 0}, fmt::format("no placed or spare cell '{}'", label),
                   "a cell of the arrangement", "take one that is placed or spare");
}

match::Shape shape_of(const project::Project& project) {
  const layout::Layout l = project::layout_of(project);
  return {l.packs, l.series, l.parallel};
}

}  // namespace

void Api::curves(const Ask&, const Reply& reply) {
  const Planned p = open_plan();
  Json cells = Json::array();
  for (const works::CellResult& c : p.plan->cells) {
    if (c.curve.empty()) continue;
    Json charge = Json::array(), volts = Json::array(), dq_V = Json::array(), dq = Json::array();
    std::vector<double> q, v;
    for (const works::CurvePoint& point : c.curve) {
      charge.push_back(rounded(point.charge_Ah, 1e3)),
          volts.push_back(rounded(point.voltage_V, 1e4));
      q.push_back(point.charge_Ah), v.push_back(point.voltage_V);
    }
    constexpr double bin_V =
        0.005;  // the curve is thinned for drawing: narrower bins show its steps
    const bench::IncrementalCapacity inc = bench::incremental_capacity(q, v, bin_V);
    for (std::size_t i = 0; i < inc.voltage_V.size(); ++i)
      dq_V.push_back(rounded(inc.voltage_V[i], 1e4)), dq.push_back(rounded(inc.per_V[i], 1e3));
    cells.push_back({{"label", c.label},
                     {"charge_Ah", std::move(charge)},
                     {"voltage_V", std::move(volts)},
                     {"dq_voltage_V", std::move(dq_V)},
                     {"dq_per_V", std::move(dq)}});
  }
  reply(json_answer({{"revision", p.revision}, {"cells", std::move(cells)}}));
}

void Api::log_series(const Ask& ask, const Reply& reply) {
  const auto project = open_project();
  const auto log =
      read_once(log_named(*project, ask.asked("name")), project::read_options(*project));
  reply(json_answer(thinned_series(*log, number_asked(ask, "from", -1e300),
                                   number_asked(ask, "to", 1e300), points_asked(ask))));
}

void Api::look_at_log(const Ask& ask, const Reply& reply) {
  const auto project = open_project();
  project::Project told = *project;
  for (project::Said* said :
       std::initializer_list<project::Said*>{&told.log_reading.sign, &told.log_reading.dates,
                                             &told.log_reading.decimal, &told.log_reading.columns})
    if (const std::string& word = ask.asked(std::string(said->row().key)); !word.empty())
      say(*said, word);
  Json json = {{"name", ask.asked("name")},
               {"lines", first_lines(ask.body)},
               {"reading", nullptr},
               {"question", nullptr},
               {"series", nullptr}};
  logs::ReadResult result;
  try {
    result = logs::read_log(ask.body, project::read_options(told));
  } catch (const InputError& e) {
    throw e.place().file.empty() ? e.in_file(ask.asked("name")) : e;
  }
  if (const auto* q = std::get_if<logs::Question>(&result)) {
    json["question"] = {{"about", q->about},
                        {"readings", q->readings},
                        {"option", q->option},
                        {"answers", q->answers}};
    return reply(json_answer(json));
  }
  const logs::Log& log = std::get<logs::Log>(result);
  const bench::Report report =
      bench::measure(log, project::tester(told), project::reference_conditions(told));
  json["reading"] = bench::to_json(log, report);
  json["series"] = thinned_series(log, -1e300, 1e300, 1200);
  reply(json_answer(json));
}

void Api::keep_log(const Ask& ask, const Reply& reply) {
  const std::string& name = ask.asked("name");
  check_name(name);
  (void)open_project();
  const std::uint64_t revision = desk_.change(
      [&](const project::Project& project) {
        return std::vector<project::Change>{
            put_file(project, file_place(Place::Kind::log, name), ask.body)};
      },
      "the log " + name, sent_with(ask, ask.asked("key")));
  reply(json_answer({{"revision", revision}}));
}

void Api::keep_photo(const Ask& ask, const Reply& reply) {
  const std::string& label = ask.asked("cell");
  if (ask.body.size() > (16u << 20))
    throw InputError({"photo", 0, 0}, fmt::format("a picture of {} bytes", ask.body.size()),
                     "a picture of at most 16 MB", "take it again, smaller");
  const std::string_view ending = picture_ending(ask.body);
  (void)open_project();
  const std::uint64_t revision = desk_.change(
      [&](const project::Project& project) {
        const auto& cells = project.cells;
        if (std::none_of(cells.begin(), cells.end(),
                         [&](const auto& c) { return c.label == label; }))
          throw InputError({"photo", 0, 0}, fmt::format("no cell '{}'", label), "a cell of the lot",
                           "enter the cell first");
        int number = 1;
        for (const project::File& f : project.photos)
          if (project::photo_label(f.name) == label) {
            const auto n = base::parse_number(
                f.name.substr(f.name.find('~') + 1, f.name.rfind('.') - f.name.find('~') - 1));
            number = std::max(number, static_cast<int>(n.value_or(0.0)) + 1);
          }
        return std::vector<project::Change>{put_file(
            project, file_place(Place::Kind::photo, project::photo_name(label, number, ending)),
            ask.body)};
      },
      "a photo of " + label, sent_with(ask, ask.asked("key")));
  reply(json_answer({{"revision", revision}}));
}

void Api::photo(const Ask& ask, const Reply& reply) {
  const auto project = open_project();
  for (const project::File& f : project->photos)
    if (f.name == ask.asked("name"))
      return reply(
          {200, "application/octet-stream", f.bytes, {{"Content-Disposition", "attachment"}}});
  throw InputError({"photo", 0, 0}, fmt::format("no photo '{}'", ask.asked("name")),
                   "a photo of the project", "look whether it was taken out");
}

Api::Exchanged Api::arranged_now() {
  if (exchanged_.revision != 0 && exchanged_.revision == desk_.state().revision) return exchanged_;
  const Planned p = open_plan();
  if (!p.plan->arrangement)
    throw InputError({"places", 0, 0}, "no arrangement", "one to change", "test more cells");
  return {p.revision, p, p.plan->arrangement->assignment, "", nullptr};
}

void Api::exchange(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::string key = text_in(body, "key");
  const std::lock_guard lock(exchange_mutex_);
  if (!key.empty() && key == exchanged_.key) return reply(json_answer(exchanged_.answer));
  if (desk_.was_made(sent_with(ask, key)))  // in an earlier run: there is no "before" any more
    throw InputError({"places", 0, 0}, "an exchange that was made already", "a new one",
                     "look at the places as they are now");
  const Exchanged now = arranged_now();
  const Planned& p = now.before;
  const auto cells = works::placed_candidates(*p.plan);
  const match::Assignment& before = now.assignment;
  const match::Assignment after = match::with_exchange(
      before, cells, index_of(cells, text_in(body, "a")), index_of(cells, text_in(body, "b")));
  const match::Effect effect =
      match::effect_of(before, after, cells, works::years_of(*p.project, *p.plan));
  const std::string places = works::places_by_hand(after, p.plan->arrangement->labels);
  const std::uint64_t revision = desk_.change(
      [&](const project::Project& project) {
        return project::read_changes(
            project, {{{"what", "setting"}, {"name", "match.places"}, {"after", places}}});
      },
      fmt::format("{} and {} exchanged", text_in(body, "a"), text_in(body, "b")),
      sent_with(ask, key));
  exchanged_ = {revision,
                p,
                after,
                key,
                {{"revision", revision},
                 {"effect", works::to_json(effect, true)},
                 {"arrangement", match::to_json(after, p.plan->arrangement->labels)}}};
  reply(json_answer(exchanged_.answer));
}

void Api::what_if_places(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const Exchanged now = [&] {
    const std::lock_guard lock(exchange_mutex_);
    return arranged_now();
  }();
  const Planned& p = now.before;
  const auto cells = works::placed_candidates(*p.plan);
  const match::Assignment& before = now.assignment;
  match::Assignment after = before;
  if (const std::string label = text_in(body, "without"); !label.empty()) {
    if (before.spares.empty())
      throw InputError({"places", 0, 0}, "no spare", "one to take its place", "test more cells");
    after = match::without(before, cells, index_of(cells, label));
  } else if (const std::string other = text_in(body, "aim"); !other.empty()) {
    const auto there =
        match::in_layout(cells, shape_of(*p.project),
                         other == "even-packs" ? match::Aim::even_packs : match::Aim::most_energy);
    if (there) after = *there;
  } else {
    after = match::with_exchange(before, cells, index_of(cells, text_in(body, "a")),
                                 index_of(cells, text_in(body, "b")));
  }
  const match::Effect effect =
      match::effect_of(before, after, cells, works::years_of(*p.project, *p.plan));
  reply(json_answer({{"effect", works::to_json(effect, true)},
                     {"arrangement", match::to_json(after, p.plan->arrangement->labels)}}));
}

void Api::what_if_plan(const Ask& ask, const Reply& reply) {
  const auto project = open_project();
  const Json body = body_of(ask);
  const project::Project other = project::with_changes(
      *project,
      project::read_changes(*project, body.contains("changes") ? body["changes"] : Json()));
  const works::Plan plan = desk_.what_if(other);
  const Json whole = works::to_json(plan);
  Json figures = Json::object();
  for (const works::Step* step : plan.steps())
    for (const works::Named& n : step->figures) {
      const std::string path = step->name + "." + n.key;
      figures[path] = base::to_json(n.figure);
      figures[path]["label"] = n.label;
    }
  Json sentences = Json::object();
  for (const works::Step* step : plan.steps()) sentences[step->name] = step->sentence;
  reply(json_answer({{"figures", std::move(figures)},
                     {"sentences", std::move(sentences)},
                     {"years", whole["forecast"]["years"]},
                     {"flows", whole["forecast"]["flows"]},
                     {"sizes", whole["size"]["sizes"]},
                     {"findings", whole["findings"]}}));
}

void Api::year(const Ask&, const Reply& reply) {
  const Planned p = open_plan();
  reply(json_answer(
      {{"revision", p.revision},
       {"series", p.plan->house ? works::series_json(*p.plan->house) : Json(nullptr)}}));
}

void Api::drawing(const Ask& ask, const Reply& reply) {
  const Planned p = open_plan();
  const std::string& name = ask.asked("name");
  if (name != "circuit")
    throw InputError({"drawing", 0, 0}, fmt::format("no drawing '{}'", name), "circuit",
                     "take this one");
  reply(json_answer(drawing::to_json(book::draw_circuit(*p.project, *p.plan, 260.0))));
}

void Api::start_job(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::string kind = text_in(body, "kind"), name = text_in(body, "name");
  const Planned p = open_plan();
  Jobs::Work work;
  if (kind == "years") {
    if (!p.plan->house)
      throw InputError({"years", 0, 0}, "a house that is not told of",
                       "what it uses and what a kilowatt-hour costs", "say it under Size");
    const int futures = std::clamp(
        body.contains("futures") && body["futures"].is_number() ? body["futures"].get<int>() : 1000,
        1, 20000);
    work = [p, futures](const Jobs::KeepGoing& keep_going) {
      const works::HouseStudy& s = *p.plan->house;
      works::HouseAnswers a;
      if (!keep_going(0.02)) return Json(nullptr);
      a.bands = works::futures(*p.project, s, futures,
                               [&](double share) { return keep_going(0.02 + 0.48 * share); });
      if (a.bands.stopped) return Json(nullptr);
      if (!keep_going(0.5)) return Json(nullptr);
      if (s.priced) a.swings = works::tornado(*p.project, s);
      if (!keep_going(0.6)) return Json(nullptr);
      a.panels = works::bank_and_panels(s);
      a.cases = works::wear_cases(s);
      a.ends = works::pack_ends(*p.project, *p.plan);
      if (!keep_going(0.7)) return Json(nullptr);
      if (!s.off_grid) a.foresight = works::foresight(s);
      Json json = works::to_json(*p.project, s, a);
      json["futures"]["count"] = futures;
      json["revision"] = p.revision;
      return json;
    };
  } else if (kind == "rehearsals") {
    work = [p](const Jobs::KeepGoing& keep_going) {
      const bank::RehearsalInput input = works::rehearsal_input(*p.project, *p.plan);
      Json all = Json::array();
      const auto& kinds = bank::rehearsal_kinds();
      for (std::size_t i = 0; i < kinds.size(); ++i) {
        if (!keep_going(double(i) / double(kinds.size()))) return Json(nullptr);
        bank::Rehearsal r = bank::rehearse(kinds[i].name, input);
        // A chart needs a few hundred points; what peaks in each line stays.
        if (r.times_s.size() > 600) {
          std::vector<std::size_t> kept;
          for (const bank::Trace& t : r.traces)
            for (const std::size_t k : drawing::thinned(t.values, 400)) kept.push_back(k);
          std::sort(kept.begin(), kept.end());
          kept.erase(std::unique(kept.begin(), kept.end()), kept.end());
          const auto thin = [&](std::vector<double>& values) {
            std::vector<double> some;
            for (const std::size_t k : kept) some.push_back(values[k]);
            values = std::move(some);
          };
          for (bank::Trace& t : r.traces) thin(t.values);
          thin(r.times_s);
        }
        all.push_back(bank::to_json(r, true));
      }
      return Json{
          {"revision", p.revision}, {"rehearsals", std::move(all)}, {"defer", commission::defer}};
    };
  } else {
    throw InputError({"jobs", 0, 0}, fmt::format("no work '{}'", kind), "years or rehearsals",
                     "take one of these");
  }
  const std::string id = jobs_.start(kind, std::move(work));
  if (id.empty()) return reply(json_answer({{"why", "Too much waits already."}}, 429));
  reply(json_answer({{"id", id}}));
}

void Api::job(const Ask& ask, const Reply& reply) {
  const Json json = jobs_.show(ask.asked("id"));
  if (json.is_null())
    throw InputError({"jobs", 0, 0}, fmt::format("no work of number '{}'", ask.asked("id")),
                     "one that was started", "start it again");
  reply(json_answer(json));
}

void Api::stop_job(const Ask& ask, const Reply& reply) {
  jobs_.stop(text_in(body_of(ask), "id"));
  reply(json_answer({{"done", true}}));
}

}  // namespace server
