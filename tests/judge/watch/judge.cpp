// SPDX-License-Identifier: Apache-2.0
// Judges the estimator on invented banks with planted faults: what is found, how soon, whether the
// kind is named right, how often it cries wolf, whether its probabilities and intervals are honest.
//   watch_judge [--runs N] [--healthy N] [--seed S] [--only WORD]
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <string>

#include <fmt/format.h>

#include "base/side_by_side.hpp"
#include "base/statistics.hpp"
#include "tests/judge/watch/judging.hpp"

namespace {

using judge::Line;
using judge::Outcome;
using watch::Kind;

std::vector<Line> lines() {
  const auto fault = [](Kind kind, double size, double ramp = 0.0) {
    judge::Fault f;
    f.kind = kind, f.size = size, f.ramp_days = ramp;
    return f;
  };
  std::vector<Line> all;
  const auto add = [&](std::string name, judge::Fault f) {
    Line l;
    l.name = std::move(name);
    l.scene.faults = {f};
    all.push_back(std::move(l));
  };
  add("capacity -3 % in 180 d", fault(Kind::capacity, -0.03, 180));
  add("capacity -6 % in 180 d", fault(Kind::capacity, -0.06, 180));
  for (const double mA : {0.5, 1.0, 3.0, 10.0})
    add(fmt::format("drift {:g} mA", mA), fault(Kind::drift, mA));
  for (const double m : {0.05, 0.1, 0.2, 0.4})
    add(fmt::format("joint {:g} mOhm", m), fault(Kind::joint, m));
  for (const double r : {0.15, 0.2, 0.3, 0.5})
    add(fmt::format("resistance +{:.0f} % in 120 d", r * 100), fault(Kind::resistance, r, 120));
  for (const double mV : {3.0, 4.0, 6.0, 15.0})
    add(fmt::format("sense {:g} mV", mV), fault(Kind::sense, mV));
  const auto varied = [&](std::string name, auto change) {
    for (const auto& [kind, size, what] : {std::tuple{Kind::drift, 3.0, "drift 3 mA"},
                                           std::tuple{Kind::joint, 0.2, "joint 0.2 mOhm"}}) {
      Line l;
      l.name = fmt::format("{}, {}", what, name);
      l.scene.faults = {fault(kind, size)};
      change(l.scene);
      all.push_back(std::move(l));
    }
  };
  varied("10 s", [](judge::Scene& s) {
    s.step_s = 10.0;
    s.days = 200;
  });
  varied("5 min", [](judge::Scene& s) { s.step_s = 300.0; });
  varied("on change", [](judge::Scene& s) { s.on_change = true; });
  varied("gaps", [](judge::Scene& s) { s.gaps = true; });
  varied("balancer", [](judge::Scene& s) { s.balancer = true; });
  varied("sun all year", [](judge::Scene& s) { s.winter = 0.0; });
  Line two;
  two.name = "two: drift 3 mA, joint 0.2 mOhm";
  two.scene.faults = {fault(Kind::drift, 3.0), fault(Kind::joint, 0.2)};
  two.scene.faults[1].cell = 3;
  all.push_back(two);
  return all;
}

std::string list(const std::vector<double>& v, double q) {
  return v.empty() ? "-" : fmt::format("{:.0f}", base::quantile(v, q));
}

void print_line(const Line& line, const std::vector<Outcome>& outcomes) {
  std::vector<double> to_alarm, to_note;
  int found = 0, right = 0, others = 0, before = 0;
  std::map<std::string, int> as;
  std::array<double, 6> p = {};
  for (const Outcome& o : outcomes) {
    if (o.days_to_note) to_note.push_back(*o.days_to_note);
    if (o.days_to_alarm) {
      ++found;
      to_alarm.push_back(*o.days_to_alarm);
      right += o.named == line.scene.faults[0].kind;
      ++as[o.named ? std::string(name(*o.named)) : "not told"];
    }
    others += o.other_alarms;
    before += o.early_alarms;
    for (std::size_t k = 0; k < p.size(); ++k) p[k] += o.p_right[k] / double(outcomes.size());
  }
  // Days that nine of ten runs, not of those found, took.
  const bool nine = to_alarm.size() * 10 >= outcomes.size() * 9;
  std::string kinds;
  for (const auto& [k, n] : as) kinds += fmt::format("{}{} {}", kinds.empty() ? "" : ", ", k, n);
  std::string ps;
  for (const double v : p) ps += fmt::format("{}{:.2f}", ps.empty() ? "" : " / ", v);
  fmt::print("| {} | {} | {} | {} / {} | {} / {} | {} | {} | {} |\n", line.name, outcomes.size(),
             found, list(to_note, 0.5), list(to_note, 0.9), list(to_alarm, 0.5),
             nine ? list(to_alarm, 0.9) : "-", kinds.empty() ? "-" : kinds, others + before, ps);
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  int runs = 100, healthy = 100;
  std::uint64_t seed = 100000;
  std::string only;
  for (int i = 1; i + 1 < argc; i += 2) {
    const std::string word = argv[i], value = argv[i + 1];
    if (word == "--runs")
      runs = std::stoi(value);
    else if (word == "--healthy")
      healthy = std::stoi(value);
    else if (word == "--seed")
      seed = std::stoull(value);
    else if (word == "--only")
      only = value;
  }
  judge::Honesty honesty;
  std::vector<std::string> wrongly;
  fmt::print(
      "| fault | runs | found | days to note, median / 90 % | days to alarm, median / 90 % of all | kind named | other alarms | mean P(right kind) after 30/60/90/120/180/240 days |\n|---|---|---|---|---|---|---|---|\n");
  for (const Line& line : lines()) {
    if (!only.empty() && line.name.find(only) == std::string::npos) continue;
    std::vector<Outcome> outcomes(static_cast<std::size_t>(runs));
    base::side_by_side(outcomes.size(), [&](std::size_t i) {
      outcomes[i] =
          judge::run(line, seed + i * 31 + std::hash<std::string>{}(line.name) % 1000003 * 1000);
    });
    print_line(line, outcomes);
    for (const Outcome& o : outcomes) {
      honesty.add(o);
      for (const std::string& w : o.wrongly) wrongly.push_back(line.name + ": " + w);
    }
  }
  if (healthy > 0) {
    std::vector<Outcome> outcomes(static_cast<std::size_t>(healthy));
    Line line;
    line.name = "healthy";
    base::side_by_side(outcomes.size(),
                       [&](std::size_t i) { outcomes[i] = judge::run(line, seed + 500000 + i); });
    double years = 0.0;
    int alarms = 0, notes = 0;
    for (const Outcome& o : outcomes) {
      years += o.watched_days / 365.25, alarms += o.other_alarms, notes += o.other_notes;
      honesty.add(o);
      for (const std::string& w : o.wrongly) wrongly.push_back("healthy: " + w);
    }
    fmt::print("\nHealthy packs: {} alarms, {} cell-days of notes in {:.1f} pack-years.\n", alarms,
               notes, years);
    std::vector<Outcome> mid(static_cast<std::size_t>(std::max(4, healthy)));
    Line middle;
    middle.name = "35 to 65 %";
    middle.scene.mid_only = true;
    middle.scene.days = 120;
    base::side_by_side(mid.size(),
                       [&](std::size_t i) { mid[i] = judge::run(middle, seed + 700000 + i); });
    int told = 0, wolf = 0;
    for (const Outcome& o : mid) told += o.cells_told_sound, wolf += o.other_alarms;
    fmt::print("Packs that never leave 35 to 65 %: {} of {} cells called as expected, {} alarms.\n",
               told, mid.size() * 16, wolf);
  }
  honesty.print();
  for (const std::string& w : wrongly) fmt::print("false alarm: {}\n", w);
  return 0;
}
