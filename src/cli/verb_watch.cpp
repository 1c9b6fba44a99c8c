// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>

#include <fmt/format.h>

#include "base/calendar.hpp"
#include "base/input_error.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "commission/checklists.hpp"
#include "feed/record_reader.hpp"
#include "layout/layout.hpp"
#include "logs/read_options.hpp"
#include "project/views.hpp"
#include "store/files.hpp"
#include "store/project_file.hpp"
#include "watch/watcher.hpp"

namespace cli {
namespace {

using base::Json;

/// A moment as the contract writes it; seconds since the start where the record has no date.
std::string moment(double s, bool dated) {
  if (!watch::known(s)) return "";
  if (!dated) return fmt::format("{:.0f} s", s);
  const double day = std::floor(s / 86400.0), rest = s - day * 86400.0;
  const long seconds = long(rest);
  return fmt::format("{}T{:02}:{:02}:{:02}", base::day_text(long(day)), seconds / 3600,
                     seconds / 60 % 60, seconds % 60);
}

Json day_or_null(long day, bool dated) {
  if (day <= 0) return nullptr;
  return dated ? base::day_text(day) : fmt::format("day {}", day + 1);
}

/// What the project says of a pack.
watch::PackFacts facts_of(const project::Project& project, int pack, int series) {
  watch::PackFacts f;
  const layout::Layout l = project::layout_of(project);
  f.name = layout::pack_name(pack);
  f.series = series;
  const double parallel = double(l.parallel);
  f.capacity_Ah = project.cell.rated_capacity.in(base::units::Ah)*parallel;
  f.resistance_mOhm = project.cell.dc_resistance.in(base::units::mOhm) / parallel;
  if (project.balancer.current.given() && project.balancer.start.given())
    f.bleeding = watch::Bleeding{project.balancer.start.in(base::units::V),
                                 project.balancer.window.in(base::units::mV)*1e-3,
                                 project.balancer.current.in(base::units::A)};
  return f;
}

struct Watched {
  std::vector<watch::Watcher> packs;
  std::vector<watch::PackFacts> facts;
  std::vector<feed::RecordSummary> records;
  std::vector<std::vector<std::string>> places, labels;
  std::vector<watch::PackVerdict> verdicts;
  std::vector<findings::Finding> findings;
  bool dated = false, lfp = true;
};

feed::Told told_of(const std::vector<std::string>& columns) {
  feed::Told told;
  for (const std::string& one : columns) {
    const auto equals = one.find('=');
    if (equals == std::string::npos)
      throw base::InputError(
          {}, fmt::format("--columns {}", one), "meaning=HEADER, such as current=Strom[A]",
          "name a meaning: time, current, cells, voltage, temperature, name, value");
    told[one.substr(0, equals)] = one.substr(equals + 1);
  }
  return told;
}

/// Reads one record; packs are made when its cells are known, on the first reading.
void read_record(const std::string& file, const project::Project& project,
                 const WatchOptions& options, Watched& w) {
  feed::RecordOptions how;
  const logs::ReadOptions named = logs::options_named(options.sign, options.dates, "");
  how.sign = named.sign;
  how.dates = named.dates;
  how.told = told_of(options.columns);
  how.capacity_Ah = project.cell.rated_capacity.in(base::units::Ah) *
                    double(project::layout_of(project).parallel);
  watch::RuleLimits limits;
  limits.high_V = project.cell.max.in(base::units::V);
  limits.low_V = project.cell.min.in(base::units::V);
  limits.charge_min_C = project.cell.charge_min.in_C();
  feed::RecordReader reader(file, how, [&](int pack, const watch::Reading& r) {
    while (w.packs.size() <= std::size_t(pack)) {
      const watch::PackFacts f = facts_of(project, int(w.packs.size()), int(r.cells_V.size()));
      w.facts.push_back(f);
      w.packs.emplace_back(f, limits);
    }
    if (int(r.cells_V.size()) != w.facts[std::size_t(pack)].series)
      throw base::InputError(
          {file, 0, 0}, fmt::format("{} cells", r.cells_V.size()),
          fmt::format("{} cells, as in the record before", w.facts[std::size_t(pack)].series),
          "give records of one bank only");
    w.packs[std::size_t(pack)].add(r);
  });
  const auto size = std::filesystem::exists(file) ? double(std::filesystem::file_size(file)) : 0.0;
  Progress progress("Reading " + std::filesystem::path(file).filename().string());
  double read = 0.0;
  store::read_blocks(file, [&](std::string_view block) {
    reader.feed(block);
    progress.at((read += double(block.size())) / std::max(1.0, size));
  });
  w.records.push_back(reader.finish());
  w.dated |= w.records.back().dated;
  w.lfp &= w.records.back().lfp;
}

/// Names each cell by its place, or by its header where the record is not of this bank's shape.
void name_places(const project::Project& project, Watched& w) {
  const layout::Layout l = project::layout_of(project);
  std::vector<std::vector<std::string>> headers;
  for (const feed::RecordSummary& r : w.records)
    if (!r.cell_headers.empty() && headers.empty()) headers = r.cell_headers;
  for (std::size_t p = 0; p < w.packs.size(); ++p) {
    w.places.emplace_back();
    w.labels.emplace_back();
    const bool fits = w.facts[p].series == l.series && int(p) < l.packs;
    for (int g = 0; g < w.facts[p].series; ++g) {
      const std::string header = p < headers.size() && std::size_t(g) < headers[p].size()
                                     ? headers[p][std::size_t(g)]
                                     : "";
      const auto number = feed::numbered(header);
      std::string place = layout::place_name(int(p), g, 0, 1);
      if (!fits) place = number ? fmt::format("{}-{}", w.facts[p].name, number->number) : place;
      w.places.back().push_back(place);
      w.labels.back().push_back(header);
    }
    if (!fits)
      w.findings.push_back(
          {.id = findings::Id::record_cells_differ,
           .severity = findings::Severity::caution,
           .what = fmt::format(
               "The record has {} cells in pack {}; the project's packs have {} groups.",
               w.facts[p].series, w.facts[p].name, l.series),
           .where = w.records.front().file,
           .measured = fmt::format("{} cells", w.facts[p].series),
           .limit = fmt::format("{} groups, {} packs", l.series, l.packs),
           .why =
               "A record of another bank says nothing of this one; cells are named here as the record names them.",
           .remedy = "Give this bank's record, or set the project's layout.",
           .basis = "the project's layout"});
  }
}

Json estimate(double value, double u) { return {{"value", value}, {"u", u}}; }

Json cell_json(const watch::CellVerdict& v, const std::string& place, const std::string& label,
               bool dated) {
  const auto of = [&](watch::State s, double scale) {
    const watch::Estimate& e = v.change[std::size_t(watch::index(s))];
    return estimate(e.value * scale, e.u * scale);
  };
  Json p = {{"healthy", v.healthy}};
  for (int k = 0; k < watch::kinds; ++k)
    p[std::string(name(watch::Kind(k)))] = v.probability[std::size_t(k)];
  Json json = {{"place", place},
               {"label", label},
               {"verdict", name(v.verdict)},
               {"kind", v.kind ? Json(name(*v.kind)) : Json(nullptr)},
               {"since", day_or_null(v.since, dated)},
               {"probabilities", p},
               {"offset_Ah", of(watch::State::offset, 1.0)},
               {"self_discharge_mA", of(watch::State::leak, 1.0)},
               {"capacity_percent", of(watch::State::capacity, 100.0)},
               {"resistance_percent", estimate(v.resistance_percent, v.resistance_u_percent)},
               {"joint_mOhm", of(watch::State::joint, 1.0)},
               {"sense_mV", of(watch::State::sense, 1.0)},
               {"next", nullptr},
               {"sentence", v.sentence}};
  if (v.next) {
    json["next"] = {{"what", v.next->what}, {"hours", v.next->hours}};
    if (!v.next->caution.empty()) json["next"]["caution"] = v.next->caution;
  }
  return json;
}

Json to_json(const Watched& w) {
  Json json;
  double from = watch::not_known, to = watch::not_known;
  std::size_t rows = 0;
  std::map<std::string, std::size_t> left_out;
  Json gaps = Json::array(), means = Json::object();
  for (const feed::RecordSummary& r : w.records) {
    if (!watch::known(from) || r.from_s < from) from = r.from_s;
    if (!watch::known(to) || r.to_s > to) to = r.to_s;
    rows += r.rows;
    for (const auto& [why, count] : r.left_out) left_out[why] += count;
    for (const feed::RecordGap& g : r.gaps) {
      Json one = {{"from", moment(g.from_s, r.dated)}, {"to", moment(g.to_s, r.dated)}};
      if (g.missing > 0) one["missing_readings"] = g.missing;
      gaps.push_back(std::move(one));
    }
    for (const auto& m : r.means)
      if (m.seconds > 0.0 && !means.contains(m.quantity)) means[m.quantity] = m.sum / m.seconds;
  }
  json["from"] = moment(from, w.dated);
  json["to"] = moment(to, w.dated);
  json["rows"] = rows;
  json["rows_left_out"] = Json::array();
  for (const auto& [why, count] : left_out)
    json["rows_left_out"].push_back({{"why", why}, {"count", count}});
  json["gaps"] = std::move(gaps);
  json["means"] = std::move(means);
  json["packs"] = Json::array();
  json["cells"] = Json::array();
  for (std::size_t p = 0; p < w.packs.size(); ++p) {
    const watch::PackVerdict& v = w.verdicts[p];
    json["packs"].push_back(
        {{"name", w.facts[p].name},
         {"current_offset_mA", estimate(v.offset_mA, v.offset_u_mA)},
         {"days_since_full", v.days_since_full ? Json(*v.days_since_full) : Json(nullptr)},
         {"full_days", v.full_days}});
    for (std::size_t j = 0; j < v.cells.size(); ++j)
      json["cells"].push_back(cell_json(v.cells[j], w.places[p][j], w.labels[p][j], w.dated));
  }
  json["findings"] = findings::to_json(w.findings);
  return json;
}

void print(const Watched& w) {
  std::size_t cells = 0, sound = 0, unknown = 0;
  for (const watch::PackVerdict& p : w.verdicts)
    for (const watch::CellVerdict& c : p.cells) {
      ++cells;
      sound += c.verdict == watch::Verdict::as_expected;
      unknown += c.verdict == watch::Verdict::cannot_tell;
    }
  std::string line;
  if (!w.lfp)
    line = "Not an LFP record: no cell is judged.";
  else if (cells == 0)
    line = "No cell columns in this record: means and gaps only.";
  else if (sound == cells)
    line = fmt::format("All {} cells as expected.", cells);
  else
    line = fmt::format("{} of {} cells as expected, {} need a look, of {} the record cannot tell.",
                       sound, cells, cells - sound - unknown, unknown);
  fmt::print("{}\n", bold(wrap(line)));
  for (const feed::RecordSummary& r : w.records) {
    fmt::print("\n{}\n", wrap(fmt::format("{}: {} rows, {} to {}, {} gaps.", r.file, r.rows,
                                          moment(r.from_s, r.dated), moment(r.to_s, r.dated),
                                          r.gaps.size())));
    for (const auto& [why, count] : r.left_out)
      fmt::print("{}\n", wrap(fmt::format("  left out {}: {}", count, why)));
  }
  std::vector<std::vector<std::string>> rows;
  for (std::size_t p = 0; p < w.verdicts.size(); ++p)
    for (std::size_t j = 0; j < w.verdicts[p].cells.size(); ++j) {
      const watch::CellVerdict& c = w.verdicts[p].cells[j];
      if (c.verdict == watch::Verdict::as_expected || c.verdict == watch::Verdict::cannot_tell)
        continue;
      rows.push_back({w.places[p][j], c.verdict == watch::Verdict::alarm ? "alarm" : "note",
                      c.kind ? std::string(name(*c.kind)) : "not told yet",
                      fmt::format("{:.2f}", 1.0 - c.healthy)});
    }
  if (!rows.empty())
    fmt::print("\n{}", table({{"cell"}, {"verdict"}, {"kind"}, {"P(fault)", true}}, rows));
  if (!w.findings.empty()) fmt::print("\n{}", findings_text(w.findings));
  fmt::print("\n{}\n", wrap(std::string(commission::defer)));
}

}  // namespace

int watch_records(const WatchOptions& options) {
  const project::Project project = store::read_project(options.file);
  Watched w;
  for (const std::string& file : options.records) read_record(file, project, options, w);
  name_places(project, w);
  for (std::size_t p = 0; p < w.packs.size(); ++p) {
    if (w.lfp) {
      w.verdicts.push_back(
          w.packs[p].verdict(w.places[p], [&](double s) { return moment(s, w.dated); }));
    } else {  // of another chemistry nothing is said
      watch::PackVerdict none;
      none.cells.resize(std::size_t(w.facts[p].series));
      for (watch::CellVerdict& c : none.cells) c.sentence = "cannot tell: not an LFP record";
      w.verdicts.push_back(none);
    }
    for (const findings::Finding& f : w.verdicts.back().findings) w.findings.push_back(f);
  }
  for (const feed::RecordSummary& r : w.records)
    for (const findings::Finding& f : r.findings) w.findings.push_back(f);
  findings::sort_by_severity(w.findings);
  if (options.json)
    fmt::print("{}\n", to_json(w).dump(2));
  else
    print(w);
  return std::any_of(
             w.findings.begin(), w.findings.end(),
             [](const findings::Finding& f) { return f.severity == findings::Severity::stop; })
             ? 1
             : 0;
}

}  // namespace cli
