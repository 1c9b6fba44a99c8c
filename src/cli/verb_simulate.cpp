// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "bank/simulate.hpp"
#include "base/delimited_text.hpp"
#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "base/side_by_side.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "commission/checklists.hpp"
#include "store/files.hpp"
#include "store/profile.hpp"
#include "store/project_file.hpp"
#include "works/twin.hpp"

namespace cli {
using base::InputError;
using base::Json;

namespace {

/// Hours and minutes since the start.
std::string clock(double seconds) {
  const long minutes = std::lround(seconds / 60.0);
  return fmt::format("{}:{:02}", minutes / 60, minutes % 60);
}

/// One profile played to its end.
struct Played {
  std::string file;
  bank::Profile profile;
  std::optional<bank::Twin> twin;
  bank::Run run;
  std::vector<findings::Finding> findings;
  [[nodiscard]] double start_s() const { return profile.rows.front().time_s; }
  [[nodiscard]] bool stops() const {
    return std::any_of(findings.begin(), findings.end(), [](const findings::Finding& f) {
      return f.severity == findings::Severity::stop;
    });
  }
};

using Names = std::vector<std::string>;

/// Every step of the run as a row of CSV.
class SeriesFile {
 public:
  SeriesFile(const std::string& path, store::Existing existing, const bank::Twin& twin,
             const Names& names)
      : file_(path, existing) {
    std::string header = "time_s,bus_V,bus_A";
    for (int k = 0; k < twin.packs(); ++k) header += fmt::format(",{}_A", layout::pack_name(k));
    for (const std::string& name : names)
      header += fmt::format(",{},{},{}", base::csv_field(name + "_V"),
                            base::csv_field(name + "_soc"), base::csv_field(name + "_C"));
    file_.append(header + '\n');
  }
  void add(double time_s, const bank::Twin& t) {
    std::string row = fmt::format("{:g},{:.5f},{:.4f}", time_s, t.bus_V(), t.bus_A());
    for (int k = 0; k < t.packs(); ++k) row += fmt::format(",{:.4f}", t.pack_A(k));
    for (int c = 0; c < t.cells(); ++c)
      row += fmt::format(",{:.5f},{:.6f},{:.3f}", t.cell_V(c), t.charge(c), t.temperature_C(c));
    file_.append(row + '\n');
  }
  void commit() { file_.commit(); }

 private:
  store::StreamedFile file_;
};

Json to_json(const Played& played, const Names& names) {
  const bank::Twin& twin = *played.twin;
  const bank::Book& book = twin.book();
  const double start = played.start_s();
  Json json = {{"steps", played.run.steps},
               {"end",
                {{"time_s", start + twin.time_s()},
                 {"bus_V", twin.bus_V()},
                 {"state_of_charge", twin.state_of_charge()},
                 {"delivered_Ah", book.out_As / 3600.0},
                 {"delivered_Wh", book.out_J / 3600.0}}}};
  json["packs"] = Json::array();
  const auto name = [&](int cell) { return names[std::size_t(cell)]; };
  for (int k = 0; k < twin.packs(); ++k) {
    const bank::PackRun& p = played.run.packs[std::size_t(k)];
    json["packs"].push_back({{"name", layout::pack_name(k)},
                             {"delivered_Ah", p.delivered_As / 3600.0},
                             {"lowest_cell", name(p.lowest_cell)},
                             {"lowest_V", p.lowest_V},
                             {"highest_cell", name(p.highest_cell)},
                             {"highest_V", p.highest_V}});
  }
  const auto event = [&](const bank::Event& e) {
    return Json{
        {"what", bank::words(e)}, {"where", bank::place_of(e)}, {"time_s", start + e.time_s}};
  };
  json["stopped_by"] = played.run.stopped_by ? event(*played.run.stopped_by) : Json(nullptr);
  json["heat"] = {{"cells_Wh", book.cells_heat_J / 3600.0},
                  {"path_Wh", book.path_heat_J / 3600.0},
                  {"balancers_Wh", book.bled_J / 3600.0},
                  {"hottest_cell", name(played.run.hottest_cell)},
                  {"hottest_C", played.run.hottest_C}};
  json["events"] = Json::array();
  for (const bank::Event& e : twin.events()) json["events"].push_back(event(e));
  json["findings"] = findings::to_json(played.findings);
  return json;
}

void print(const Played& played, const Names& names) {
  const bank::Twin& twin = *played.twin;
  const bank::Book& book = twin.book();
  const auto name = [&](int cell) { return names[std::size_t(cell)]; };
  fmt::print(
      "{}\n\n",
      bold(wrap(fmt::format(
          "{:.2f} h played: {:.1f} Ah and {:.2f} kWh {} at the bus; {:.0f} % charge at the "
          "end.",
          twin.time_s() / 3600.0, std::abs(book.out_As) / 3600.0, std::abs(book.out_J) / 3.6e6,
          book.out_As < 0.0 ? "taken up" : "delivered", twin.state_of_charge() * 100.0))));
  std::vector<std::vector<std::string>> rows;
  for (int k = 0; k < twin.packs(); ++k) {
    const bank::PackRun& p = played.run.packs[std::size_t(k)];
    rows.push_back({layout::pack_name(k),
                    base::fixed(std::abs(p.delivered_As) / 3600.0, 2) +
                        (p.delivered_As < 0.0 ? " in" : " out"),
                    base::fixed(p.lowest_V, 3), name(p.lowest_cell), base::fixed(p.highest_V, 3),
                    name(p.highest_cell)});
  }
  fmt::print("{}\n", table({{"pack"},
                            {"Ah", true},
                            {"lowest V", true},
                            {"of cell"},
                            {"highest V", true},
                            {"of cell"}},
                           rows));
  fmt::print(
      "{}\n",
      wrap(fmt::format(
          "Heat: {:.1f} Wh in the cells, {:.1f} Wh in wires, joints and BMS; the hottest cell, {}, reached {:.1f} °C.",
          book.cells_heat_J / 3600.0, book.path_heat_J / 3600.0, name(played.run.hottest_cell),
          played.run.hottest_C)));
  if (!twin.events().empty()) {
    std::vector<std::vector<std::string>> what;
    for (std::size_t i = 0; i < std::min<std::size_t>(twin.events().size(), 20); ++i) {
      const bank::Event& e = twin.events()[i];
      what.push_back({clock(played.start_s() + e.time_s), bank::place_of(e), bank::words(e)});
    }
    fmt::print("\n{}", table({{"h:min", true}, {"where"}, {"what happened"}}, what));
    if (twin.events().size() > what.size())
      fmt::print("… and {} more; --json lists all\n", twin.events().size() - what.size());
  }
  if (!played.findings.empty()) fmt::print("\n{}", findings_text(played.findings));
}

}  // namespace

int simulate(const SimulateOptions& options) {
  if (!options.series.empty() && options.profiles.size() > 1)
    throw InputError({}, fmt::format("--series for {} profiles", options.profiles.size()),
                     "one profile to write", "play the one whose series you want by itself");
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  const works::TwinOfProject made =
      works::twin_of(project, plan, options.start_charge, options.room_C);
  std::vector<Played> all(options.profiles.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    all[i].file = options.profiles[i];
    all[i].profile =
        store::read_profile(store::read_file(all[i].file), all[i].file, all[i].findings);
    all[i].twin.emplace(made.setup);
  }
  std::optional<SeriesFile> series;
  if (!options.series.empty())
    series.emplace(options.series,
                   options.overwrite ? store::Existing::replace : store::Existing::refuse,
                   *all.front().twin, made.names);
  Progress progress("Playing the profile");
  base::side_by_side(all.size(), [&](std::size_t i) {
    Played& played = all[i];
    const double whole = played.profile.rows.back().time_s - played.start_s();
    played.run = bank::play(*played.twin, played.profile, options.step_s, options.room_C,
                            [&](const bank::Twin& t) {
                              if (i == 0) progress.at(t.time_s() / whole);
                              if (series) series->add(played.start_s() + t.time_s(), t);
                              return true;
                            });
    for (findings::Finding& f : bank::findings_of(*played.twin))
      played.findings.push_back(std::move(f));
    for (const findings::Finding& f : made.findings) played.findings.push_back(f);
    findings::sort_by_severity(played.findings);
  });
  if (series) series->commit();
  if (options.json) {
    if (all.size() == 1) {
      print_json(to_json(all.front(), made.names));
    } else {
      Json runs = Json::array();
      for (const Played& played : all) {
        Json one = to_json(played, made.names);
        one["profile"] = played.file;
        runs.push_back(std::move(one));
      }
      print_json(Json{{"runs", runs}});
    }
  } else {
    for (const Played& played : all) {
      if (all.size() > 1)
        fmt::print("{}{}\n", &played == &all.front() ? "" : "\n", quiet(played.file));
      print(played, made.names);
    }
  }
  return std::any_of(all.begin(), all.end(), [](const Played& p) { return p.stops(); }) ? 1 : 0;
}

int rehearse(const RehearseOptions& options) {
  const project::Project project = store::read_project(options.file);
  const works::Plan plan = works::plan(project);
  const bank::RehearsalInput input = works::rehearsal_input(project, plan);
  std::vector<bank::Rehearsal> played;
  std::string names;
  for (const bank::RehearsalKind& k : bank::rehearsal_kinds()) {
    names += (names.empty() ? "" : ", ") + std::string(k.name);
    if (options.name.empty() || options.name == k.name)
      played.push_back(bank::rehearse(k.name, input));
  }
  if (played.empty())
    throw InputError({}, fmt::format("no rehearsal '{}'", options.name), "one of: " + names,
                     "copy one of these names");
  if (!options.series.empty()) {
    if (played.size() > 1)
      throw InputError({}, "--series without a name", "one rehearsal to write",
                       "name one of: " + names);
    const bank::Rehearsal& r = played.front();
    std::string csv = "time_s";
    for (const bank::Trace& t : r.traces) csv += fmt::format(",{} ({})", t.name, t.unit);
    csv += '\n';
    for (std::size_t i = 0; i < r.times_s.size(); ++i) {
      csv += fmt::format("{:g}", r.times_s[i]);
      for (const bank::Trace& t : r.traces) csv += fmt::format(",{:.5f}", t.values[i]);
      csv += '\n';
    }
    store::write_file(options.series, csv,
                      options.overwrite ? store::Existing::replace : store::Existing::refuse);
  }
  if (options.json) {
    Json json = Json::array();
    for (const bank::Rehearsal& r : played) json.push_back(bank::to_json(r, false));
    print_json(json);
    return 0;
  }
  for (const bank::Rehearsal& r : played) {
    fmt::print("{}  {}\n", bold(r.name), quiet(r.title));
    fmt::print("{}\n", wrap(r.seen));
    fmt::print("{}\n",
               wrap(fmt::format(
                   "Caught by: {}{}.", r.caught_by,
                   r.caught_s > 0.0 ? fmt::format(", {:.0f} s after it began", r.caught_s) : "")));
    fmt::print("{}\n", findings_text({r.finding}));
  }
  fmt::print("{}\n",
             wrap("A rehearsal is reckoned, not measured. " + std::string(commission::defer)));
  return 0;
}

}  // namespace cli
