// SPDX-License-Identifier: Apache-2.0
#include <filesystem>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "bench/header.hpp"
#include "bench/measure.hpp"
#include "bench/read_log.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"

namespace cli {
namespace {

using base::InputError;
using base::Json;

/// "time=Zeit[min]" to the column's header and unit.
std::map<bench::Meaning, bench::NamedColumn> named_columns(const std::vector<std::string>& typed) {
  std::map<bench::Meaning, bench::NamedColumn> columns;
  for (const std::string& text : typed) {
    const std::size_t equals = text.find('=');
    const auto meaning = bench::meaning_named(text.substr(0, equals));
    if (equals == std::string::npos || !meaning || *meaning == bench::Meaning::other)
      throw InputError({}, "--columns " + text,
                       "meaning=HEADER, the meaning one of time, date, voltage, current, "
                       "temperature, capacity, energy, state",
                       "write for example --columns 'current=Strom 2'");
    std::string header = text.substr(equals + 1), unit;
    if (header.ends_with(']') && header.rfind('[') != std::string::npos && header.rfind('[') > 0) {
      const std::size_t open = header.rfind('[');
      const std::string inside = header.substr(open + 1, header.size() - open - 2);
      if (bench::read_unit(inside)) unit = inside, header.resize(open);
    }
    columns[*meaning] = {header, unit};
  }
  return columns;
}

bench::Tester read_tester(const std::string& file) {
  if (file.empty()) return {};
  // The tester's file is a [tester] table as in project.toml; the rest of a project is filled in.
  store::TextForm form;
  form["project.toml"] =
      "[project]\nname = \"tester\"\n[cell]\nrated_capacity_Ah = 1\ndc_resistance_mOhm = "
      "1\n[bus]\npower_W = 1\n";
  const std::string text = store::read_file(file);
  form["project.toml"] = (text.find("[tester]") == std::string::npos ? "[tester]\n" : "") + text +
                         "\n" + form["project.toml"];
  try {
    bench::Tester t = works::tester(store::from_text(form));
    t.stated = true;
    return t;
  } catch (const InputError& e) {
    throw InputError({file, e.place().line, e.place().column}, e.found(), e.expected(), e.remedy());
  }
}

struct Outcome {
  Json json;
  std::string text;
  bool readable = false, stop = false;
};

std::string measure_text(const std::optional<bench::Measure>& m, const std::string& unit) {
  return m ? base::show({.value = m->value, .u = m->u, .unit = unit}) : "–";
}

std::string report_text(const std::string& file, const bench::Log& log, const bench::Report& r) {
  const bench::Measures& m = r.measures;
  std::string text =
      bold(m.discharge_capacity_Ah ? fmt::format("{}: {} from full to the cut-off", file,
                                                 measure_text(m.discharge_capacity_Ah, "Ah"))
                                   : fmt::format("{}: {} Ah charged, {} Ah discharged", file,
                                                 base::significant(m.totals.charged_Ah, 5),
                                                 base::significant(m.totals.discharged_Ah, 5)));
  text += "\n\n";
  std::vector<std::vector<std::string>> rows;
  const std::size_t most = 14;
  for (std::size_t i = 0; i < std::min(most, r.phases.size()); ++i) {
    const bench::Phase& p = r.phases[i];
    std::string mode(bench::name(p.mode));
    for (char& c : mode)
      if (c == '_') c = ' ';
    rows.push_back({std::string(bench::name(p.kind)), p.kind == bench::Kind::rest ? "" : mode,
                    base::fixed((p.end_s - p.start_s) / 3600.0, 3), base::fixed(p.charge_Ah, 3),
                    base::fixed(p.energy_Wh, 2), base::fixed(std::abs(p.mean_current_A), 2),
                    base::fixed(p.start_V, 3), base::fixed(p.end_V, 3)});
  }
  text += table({{"phase"},
                 {"mode"},
                 {"h", true},
                 {"Ah", true},
                 {"Wh", true},
                 {"mean A", true},
                 {"from V", true},
                 {"to V", true}},
                rows);
  if (r.phases.size() > most)
    text += fmt::format("… {} more phases; --json lists them all\n", r.phases.size() - most);
  text += "\n";
  rows = {{"discharge capacity", measure_text(m.discharge_capacity_Ah, "Ah")},
          {"discharge energy", measure_text(m.discharge_energy_Wh, "Wh")},
          {"charge capacity", measure_text(m.charge_capacity_Ah, "Ah")},
          {"coulombic efficiency", measure_text(m.coulombic_efficiency, "")},
          {"energy efficiency", measure_text(m.energy_efficiency, "")},
          {fmt::format("DC resistance{}",
                       m.resistance
                           ? ", " + base::significant(m.resistance->time_s, 2) + " s after a step"
                           : ""),
           measure_text(m.resistance ? std::optional(m.resistance->mOhm) : std::nullopt, "mΩ")},
          {"charged − discharged, whole log",
           base::fixed(m.totals.charged_Ah - m.totals.discharged_Ah, 4) + " Ah"},
          {"mean temperature",
           m.mean_temperature_C ? base::fixed(*m.mean_temperature_C, 1) + " °C" : "–"}};
  text += table({{"measure"}, {"value ± standard uncertainty"}}, rows);
  std::string columns;
  for (const bench::Column& c : log.columns)
    columns += fmt::format("{}{} '{}'{}", columns.empty() ? "" : ", ", c.meaning, c.header,
                           c.unit.empty() ? "" : " in " + c.unit);
  text += fmt::format("\n{} rows used, {} left out\n{}\n", log.rows_used(), log.rows_left_out(),
                      "Columns: " + wrap(columns, 80, 9));
  text += findings_text(r.findings);
  return text;
}

Outcome bench_one(const std::string& file, const bench::ReadOptions& options,
                  const bench::Tester& tester) {
  Outcome outcome;
  store::Sha256 hash;
  try {
    bench::LogReader reader(options);
    std::error_code ignored;
    const auto size = double(std::filesystem::file_size(file, ignored));
    double done = 0.0;
    Progress progress("reading " + file);
    store::read_blocks(file, [&](std::string_view block) {
      hash.add(block);
      reader.feed(block);
      done += double(block.size());
      progress.at(size > 0.0 ? done / size : 0.0);
    });
    bench::ReadResult result = reader.finish();
    if (const auto* q = std::get_if<bench::Question>(&result)) {
      outcome.json = {
          {"file", file},
          {"question", {{"about", q->about}, {"readings", q->readings}, {"option", q->option}}}};
      outcome.text = fmt::format("{}:\n  found:    {}\n", file, q->about);
      for (const std::string& reading : q->readings)
        outcome.text += fmt::format("            · {}\n", reading);
      outcome.text += fmt::format(
          "  expected: a log that can be read in one way\n  to do:    say which, for example: {}\n",
          q->option);
      return outcome;
    }
    const bench::Log& log = std::get<bench::Log>(result);
    const bench::Report report = bench::measure(log, tester);
    const Json measured = bench::to_json(log, report);
    outcome.json = {{"file", file},
                    {"rows", measured["rows"]},
                    {"rows_rejected", measured["rows_rejected"]},
                    {"sha256", hash.hex()}};
    outcome.json.update(measured);
    outcome.text = report_text(file, log, report);
    outcome.readable = true;
    for (const base::Finding& f : report.findings)
      outcome.stop = outcome.stop || f.severity == base::Severity::stop;
  } catch (const InputError& e) {
    const InputError placed = e.place().file.empty() ? e.in_file(file) : e;
    outcome.json = {{"file", file},
                    {"error",
                     {{"line", placed.place().line},
                      {"column", placed.place().column},
                      {"found", placed.found()},
                      {"expected", placed.expected()},
                      {"remedy", placed.remedy()}}}};
    outcome.text = std::string(placed.what()) + "\n";
  }
  return outcome;
}

}  // namespace

int bench(const BenchOptions& options) {
  bench::ReadOptions read;
  read.sign = options.sign == "discharge-positive" ? bench::SignRule::discharge_positive
              : options.sign == "charge-positive"  ? bench::SignRule::charge_positive
                                                   : bench::SignRule::automatic;
  read.dates = options.dates == "dmy"   ? bench::DateOrder::dmy
               : options.dates == "mdy" ? bench::DateOrder::mdy
               : options.dates == "ymd" ? bench::DateOrder::ymd
                                        : bench::DateOrder::unknown;
  read.decimal = options.decimal == "point"   ? bench::DecimalRule::point
                 : options.decimal == "comma" ? bench::DecimalRule::comma
                                              : bench::DecimalRule::automatic;
  read.channel = options.channel;
  read.columns = named_columns(options.columns);
  read.leave_out_bad_rows = options.leave_out_bad_rows;
  const bench::Tester tester = read_tester(options.tester);
  bool all_readable = true, stop = false;
  Json array = Json::array();
  for (const std::string& file : options.logs) {
    Outcome outcome = bench_one(file, read, tester);
    if (!outcome.readable)
      fmt::print(stderr, "packhouse: {}", outcome.text);
    else if (!options.json)
      fmt::print("{}\n", outcome.text);
    array.push_back(std::move(outcome.json));
    all_readable = all_readable && outcome.readable;
    stop = stop || outcome.stop;
  }
  if (options.json) fmt::print("{}\n", array.dump(2));
  return !all_readable ? 2 : stop ? 1 : 0;
}

}  // namespace cli
