// SPDX-License-Identifier: Apache-2.0
#include <filesystem>

#include <fmt/format.h>

#include "base/figure.hpp"
#include "base/input_error.hpp"
#include "base/interpolation.hpp"
#include "bench/fit.hpp"
#include "bench/measure.hpp"
#include "cli/terminal.hpp"
#include "cli/verbs.hpp"
#include "logs/header.hpp"
#include "logs/read_log.hpp"
#include "store/files.hpp"
#include "store/text_form.hpp"

namespace cli {
namespace {

using base::InputError;
using base::Json;

bench::Tester read_tester(const std::string& file) {
  if (file.empty()) return {};
  // The tester's file is a [tester] table as in project.toml; the rest of a project is filled in.
  store::TextForm form;
  form["project.toml"] =
      "[project]\nname = \"tester\"\n[cell]\nrated_capacity_Ah = 1\ndc_resistance_mOhm = "
      "1\n[bus]\npower_W = 1\n";
  const std::string text = store::read_file(file);
  if (text.find("[project]") != std::string::npos) {  // a whole project.toml
    form["project.toml"] = text;
    try {
      return works::tester(store::from_text(form));
    } catch (const InputError& e) {
      throw InputError({file, e.place().line, e.place().column}, e.found(), e.expected(),
                       e.remedy());
    }
  }
  form["project.toml"] = (text.find("[tester]") == std::string::npos ? "[tester]\n" : "") + text +
                         "\n" + form["project.toml"];
  try {
    return works::tester(store::from_text(form));
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

std::string resistance_text(const std::optional<bench::DcResistance>& r) {
  return measure_text(r ? std::optional(r->mOhm) : std::nullopt, "mΩ");
}

std::string measures_table(const logs::Log& log, const bench::Measures& m) {
  const auto volts = [](const std::optional<double>& v) {
    return v ? base::fixed(*v, 3) + " V" : std::string("–");
  };
  std::vector<std::vector<std::string>> rows = {
      {"discharge capacity", measure_text(m.discharge_capacity_Ah, "Ah")},
      {"  at reference conditions",
       measure_text(m.reference ? std::optional(m.reference->capacity_Ah) : std::nullopt, "Ah")},
      {"discharge energy", measure_text(m.discharge_energy_Wh, "Wh")},
      {"put in by the last full charge", measure_text(m.charge_capacity_Ah, "Ah")},
      {"  of it at constant voltage", measure_text(m.tail_charge_Ah, "Ah")},
      {"mean voltage, discharge / charge",
       volts(m.mean_discharge_V) + " / " + volts(m.mean_charge_V)},
      {"coulombic efficiency", measure_text(m.coulombic_efficiency, "")},
      {"energy efficiency", measure_text(m.energy_efficiency, "")},
      {"DC resistance, about 1 s after a step", resistance_text(m.resistance_1s)},
      {fmt::format("DC resistance, up to {} s after a step",
                   m.resistance ? base::significant(m.resistance->time_s, 2) : "10"),
       resistance_text(m.resistance)},
      {fmt::format("DC resistance, up to {} s after a step",
                   m.resistance_30s ? base::significant(m.resistance_30s->time_s, 2) : "30"),
       resistance_text(m.resistance_30s)},
      {"self-discharge, a month",
       m.self_discharge_percent_month ? measure_text(m.self_discharge_percent_month, "%") : "–"},
      {"charged − discharged, whole log",
       base::fixed(m.totals.charged_Ah - m.totals.discharged_Ah, 3) + " Ah"},
      {"moved, by the tester's own counter",
       log.counter_Ah > 0.0 ? base::fixed(log.counter_Ah, 3) + " Ah" : "–"},
      {"mean temperature",
       m.mean_temperature_C ? base::fixed(*m.mean_temperature_C, 1) + " °C" : "–"}};
  std::erase_if(rows, [](const auto& row) { return row[1] == "–" || row[1] == "– / –"; });
  return table({{"measure"}, {"value ± standard uncertainty (k = 1)"}}, rows);
}

std::string conditions_text(const bench::Measures& m) {
  const bench::Conditions& c = *m.conditions;
  return fmt::format(
      "Tested so: full at {:.3f} V and {:.2f} A, rested {:.1f} h, discharged at {:.2f} A ({:.2f} of "
      "the capacity an hour) to {:.3f} V.",
      c.full_V, c.tail_A, c.rest_h, c.current_A, c.rate_per_h, c.end_V);
}

std::string budget_table(const bench::Measures& m) {
  std::vector<std::vector<std::string>> rows;
  for (const bench::BudgetLine& line : m.capacity_budget)
    rows.push_back({std::string(line.input), base::significant(line.u, 3),
                    base::significant(line.sensitivity, 3), base::fixed(line.contribution_Ah, 3)});
  double squares = 0.0;
  for (const bench::BudgetLine& line : m.capacity_budget)
    squares += line.contribution_Ah * line.contribution_Ah;
  rows.push_back({"together (k = 1)", "", "", base::fixed(std::sqrt(squares), 3)});
  return table({{"budget of the capacity"},
                {"u (k = 1)", true},
                {"sensitivity", true},
                {"contributes, Ah", true}},
               rows);
}

/// The discharge in eleven points: voltage where each tenth of the charge is out.
std::string curve_table(const logs::Log& log, const bench::Report& report) {
  const auto i = bench::capacity_run(report.runs);
  if (!i) return "";
  const bench::Run& run = report.runs[*i];
  std::vector<std::string> share = {"out, %"}, volts = {"V"};
  double out_Ah = 0.0;
  std::size_t next = 0;
  for (std::size_t k = run.first; k <= run.last && next <= 10; ++k) {
    out_Ah += std::abs(log.charge_As[k]) / 3600.0;
    const bool last = k == run.last && next == 10;
    if (out_Ah + 1e-9 < run.charge_Ah * double(next) / 10.0 && !last) continue;
    share.push_back(std::to_string(next * 10));
    volts.push_back(base::fixed(log.voltage_V[k], 3));
    ++next;
  }
  std::vector<TableColumn> heads;
  for (std::size_t c = 0; c < share.size(); ++c) heads.push_back({share[c], c > 0});
  return "\n" + table(heads, {volts});
}

/// The capacity, or the interval that is known of it, or what flowed.
std::string headline(const logs::Log& log, const bench::Measures& m) {
  if (m.discharge_capacity_Ah)
    return measure_text(m.discharge_capacity_Ah, "Ah") + " from full to the cut-off";
  if (m.likely_capacity_Ah)
    return fmt::format("at least {:.1f} Ah, likely {:.0f} to {:.0f} Ah", (*m.capacity_bounds_Ah)[0],
                       (*m.likely_capacity_Ah)[0], (*m.likely_capacity_Ah)[1]);
  if (m.capacity_bounds_Ah)
    return fmt::format("between {:.1f} and {:.1f} Ah", (*m.capacity_bounds_Ah)[0],
                       (*m.capacity_bounds_Ah)[1]);
  if (m.totals.charged_Ah + m.totals.discharged_Ah <= 0.0)
    return fmt::format("nothing flowed for {:.1f} h",
                       (log.time_s.back() - log.time_s.front()) / 3600.0);
  return fmt::format("{} Ah charged, {} Ah discharged", base::significant(m.totals.charged_Ah, 5),
                     base::significant(m.totals.discharged_Ah, 5));
}

std::string report_text(const std::string& file, const logs::Log& log, const bench::Report& r) {
  const bench::Measures& m = r.measures;
  std::string text = bold(fmt::format("{}: {}", file, headline(log, m)));
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
  text += measures_table(log, m);
  if (m.conditions) text += "\n" + wrap(conditions_text(m)) + "\n";
  if (!m.capacity_budget.empty()) text += "\n" + budget_table(m);
  text += curve_table(log, r);
  std::string columns;
  for (const logs::Column& c : log.columns)
    columns += fmt::format("{}{} '{}'{}", columns.empty() ? "" : ", ", c.meaning, c.header,
                           c.unit.empty() ? "" : " in " + c.unit);
  text += fmt::format("\n{} rows used, {} left out\n{}\n", log.rows_used(), log.rows_left_out(),
                      "Columns: " + wrap(columns, 80, 9));
  text += findings_text(r.findings);
  return text;
}

std::string model_text(const std::variant<bench::FittedCell, bench::NoFit>& fitted) {
  if (const auto* none = std::get_if<bench::NoFit>(&fitted))
    return "\n" + wrap("No model can be fitted: " + none->why + ".") + "\n";
  const auto& c = std::get<bench::FittedCell>(fitted);
  const auto row = [](std::string what, const bench::Measure& m, const std::string& unit) {
    return std::vector<std::string>{std::move(what), measure_text(m, unit)};
  };
  const auto lag = [&](std::string what, const bench::Measure& m, bool determined) {
    if (determined || c.time_constants_assumed) return row(std::move(what), m, "s");
    return std::vector<std::string>{std::move(what), "not determined by this log"};
  };
  std::string text =
      "\n" + table({{"model"}, {"value ± standard uncertainty"}},
                   {row("R0", c.r0_mOhm, "mΩ"), row("R1", c.r1_mOhm, "mΩ"),
                    lag("τ1", c.tau1_s, c.tau_determined[0]), row("R2", c.r2_mOhm, "mΩ"),
                    lag("τ2", c.tau2_s, c.tau_determined[1]),
                    row("hysteresis, half the gap", c.hysteresis_mV, "mV")});
  std::vector<TableColumn> heads = {{"charge, %"}};
  std::vector<std::string> up = {"after charging, V"}, down = {"after discharging, V"};
  const auto& s = c.curve.state_of_charge;
  for (const double at : {0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95}) {
    if (at < s.front() || at > s.back()) continue;
    heads.push_back({fmt::format("{:g}", at * 100.0), true});
    up.push_back(base::fixed(base::interpolate(s, c.curve.charge_V, at), 3));
    down.push_back(base::fixed(base::interpolate(s, c.curve.discharge_V, at), 3));
  }
  text += "\n" + table(heads, {up, down});
  return text +
         wrap(fmt::format(
             "Residuals between 5 and 97 % of charge {:.1f} mV rms, {:.0f} mV at worst, over {} rows.{}{}",
             c.residual_rms_mV, c.residual_worst_mV, c.rows,
             c.time_constants_assumed
                 ? " The rows stand too far apart to show time constants: 15 and 160 s, and "
                   "the usual shares of R0, R1 and R2, are assumed."
                 : "",
             c.both_ways ? "" : " The log runs one way only: the hysteresis is assumed.")) +
         "\n";
}

std::string chance_text(double p) {
  return p < 0.001   ? "below 0.1 %"
         : p > 0.999 ? "above 99.9 %"
                     : fmt::format("{:.1f} %", 100.0 * p);
}

/// A capacity of which only bounds are known conforms, or not, where both of them say so.
void add_bounded_verdict(const bench::Measures& m, const BenchOptions& asked, Outcome& outcome) {
  const double low = (*m.capacity_bounds_Ah)[0], high = (*m.capacity_bounds_Ah)[1];
  const bench::Verdict verdict = low > 1.01 * asked.limit_Ah    ? bench::Verdict::accept
                                 : high < 0.99 * asked.limit_Ah ? bench::Verdict::reject
                                                                : bench::Verdict::undecided;
  outcome.json["verdict"] = {{"limit_Ah", asked.limit_Ah},
                             {"judged_Ah", nullptr},
                             {"bounds_Ah", {low, high}},
                             {"verdict", bench::name(verdict)}};
  outcome.text +=
      "\n" + bold(fmt::format("Against {:g} Ah: {}", asked.limit_Ah, bench::name(verdict))) + "\n" +
      wrap(fmt::format("Only bounds are known: {:.1f} to {:.1f} Ah.", low, high)) + "\n";
}

/// Judged is the capacity at reference conditions, where the log allows to go there.
void add_verdict(const bench::Measures& m, const BenchOptions& asked, Outcome& outcome) {
  if (!m.discharge_capacity_Ah && m.capacity_bounds_Ah)
    return add_bounded_verdict(m, asked, outcome);
  if (!m.discharge_capacity_Ah) {
    outcome.json["verdict"] = nullptr;
    outcome.text += "\n" + bold(fmt::format("Against {:g} Ah: no verdict, since the log gives no "
                                            "capacity.\n",
                                            asked.limit_Ah));
    return;
  }
  const bench::Measure& c = m.reference ? m.reference->capacity_Ah : *m.discharge_capacity_Ah;
  const bench::Judgement j = bench::judge(c.value, c.u, asked.limit_Ah, bench::LimitSide::lower,
                                          asked.risk_percent / 100.0);
  outcome.json["verdict"] = {{"limit_Ah", asked.limit_Ah},
                             {"judged_Ah", {{"value", c.value}, {"u", c.u}}},
                             {"at_reference_conditions", m.reference.has_value()},
                             {"verdict", bench::name(j.verdict)},
                             {"probability_conforming", j.probability_conforming}};
  outcome.text +=
      "\n" +
      bold(fmt::format("Against {:g} Ah at a risk of {:g} %: {}", asked.limit_Ah,
                       asked.risk_percent, bench::name(j.verdict))) +
      "\n" +
      wrap(fmt::format("Judged is {}{}; chance that it conforms: {}.", measure_text(c, "Ah"),
                       m.reference ? ", at reference conditions" : ", as measured",
                       chance_text(j.probability_conforming))) +
      "\n";
}

Outcome bench_one(const std::string& file, const logs::ReadOptions& options,
                  const bench::Tester& tester, const BenchOptions& asked) {
  Outcome outcome;
  store::Sha256 hash;
  try {
    logs::LogReader reader(options);
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
    logs::ReadResult result = reader.finish();
    if (const auto* q = std::get_if<logs::Question>(&result)) {
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
    const logs::Log& log = std::get<logs::Log>(result);
    const bench::Report report = bench::measure(log, tester);
    const Json measured = bench::to_json(log, report);
    outcome.json = {{"file", file},
                    {"rows", measured["rows"]},
                    {"rows_rejected", measured["rows_rejected"]},
                    {"sha256", hash.hex()}};
    outcome.json.update(measured);
    outcome.text = report_text(file, log, report);
    if (asked.model) {
      const auto fitted = bench::fit_alone(log, report);
      const auto* none = std::get_if<bench::NoFit>(&fitted);
      outcome.json["model"] =
          none ? Json{{"none", none->why}} : bench::to_json(std::get<bench::FittedCell>(fitted));
      outcome.text += model_text(fitted);
    }
    if (asked.limit_Ah > 0.0) add_verdict(report.measures, asked, outcome);
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
  logs::ReadOptions read = logs::options_named(options.sign, options.dates, options.decimal);
  read.channel = options.channel;
  read.columns = logs::named_columns(options.columns);
  read.leave_out_bad_rows = options.leave_out_bad_rows;
  const bench::Tester tester = read_tester(options.tester);
  bool all_readable = true, stop = false;
  Json array = Json::array();
  std::map<std::string, std::string> seen;  // the same bytes under another name are said
  for (const std::string& file : options.logs) {
    Outcome outcome = bench_one(file, read, tester, options);
    if (!outcome.readable)
      fmt::print(stderr, "packhouse: {}", outcome.text);
    else if (!options.json)
      fmt::print("{}\n", outcome.text);
    if (outcome.json.contains("sha256")) {
      const auto [first, is_new] = seen.emplace(outcome.json["sha256"].get<std::string>(), file);
      if (!is_new) {
        const base::Finding twice{
            .id = "same-log-twice",
            .severity = base::Severity::caution,
            .what = fmt::format("The bytes are those of {}: it is the same test.", first->second),
            .where = file,
            .why = "Counted twice it would look like a repetition that agrees.",
            .remedy = "Take one of the two away."};
        outcome.json["findings"].push_back(base::to_json(std::vector<base::Finding>{twice}).at(0));
        if (!options.json) fmt::print("{}\n", findings_text({twice}));
      }
    }
    array.push_back(std::move(outcome.json));
    all_readable = all_readable && outcome.readable;
    stop = stop || outcome.stop;
  }
  if (options.json) fmt::print("{}\n", array.dump(2));
  return !all_readable ? 2 : stop ? 1 : 0;
}

}  // namespace cli
