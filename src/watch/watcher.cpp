// SPDX-License-Identifier: Apache-2.0
#include "watch/watcher.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace watch {
namespace {

constexpr const char* words_of_kind[kinds] = {"its charge drifts: it leaks more than the others",
                                              "its capacity falls", "its resistance rises",
                                              "a joint at it has grown a resistance",
                                              "its reading is off: a sense lead or its tap"};

/// The size of a fault as a person reads it.
std::string size_of(Kind kind, const CellVerdict& v) {
  const auto of = [&](State s, double scale, const char* unit, int digits) {
    const Estimate& e = v.change[std::size_t(index(s))];
    return fmt::format("{:+.{}f} ± {:.{}f} {}", e.value * scale, digits, e.u * scale, digits, unit);
  };
  switch (kind) {
    case Kind::drift:
      return of(State::leak, 1.0, "mA", 1);
    case Kind::capacity:
      return of(State::capacity, 100.0, "%", 1);
    case Kind::resistance:
      return fmt::format("{:+.0f} ± {:.0f} %", v.resistance_percent, v.resistance_u_percent);
    case Kind::joint:
      return of(State::joint, 1.0, "mΩ", 2);
    case Kind::sense:
      return of(State::sense, 1.0, "mV", 1);
  }
  return {};
}

}  // namespace

std::string_view name(Verdict verdict) {
  constexpr std::string_view names[] = {"as_expected", "note", "alarm", "cannot_tell"};
  return names[int(verdict)];
}

Watcher::Watcher(PackFacts facts, RuleLimits limits, Tuning tuning)
    : facts_(facts),
      builder_(facts),
      estimator_(facts, tuning),
      short_(facts.series),
      rules_(facts, limits) {}

void Watcher::take() {
  for (Day& day : builder_.take()) {
    estimator_.add(day);
    full_days_ += day.full;
    through_Ah_ += day.out_Ah;
    days_.push_back(std::move(day));
  }
}

std::vector<Day> Watcher::take_days() { return std::exchange(days_, {}); }

void Watcher::add(const Reading& r) {
  if (!known(first_s_)) first_s_ = r.time_s;
  last_s_ = r.time_s;
  rules_.add(r);
  short_.add(r);
  builder_.add(r);
  take();
}

void Watcher::add(const Day& day) {
  estimator_.add(day);
  full_days_ += day.full;
  through_Ah_ += day.out_Ah;
  if (!known(first_s_)) first_s_ = double(day.day) * 86400.0;
  last_s_ = double(day.day + 1) * 86400.0;
}

CellVerdict Watcher::judge_long(int cell) const {
  const CellReport r = estimator_.report(cell);
  CellVerdict v;
  v.healthy = r.healthy;
  v.probability = r.probability;
  v.change = r.change;
  const Estimate& R = r.change[std::size_t(index(State::resistance))];
  // Of the 10 s resistance, its ohmic part is about seven tenths (docs/models/cell.md).
  const double whole = 0.7 * facts_.resistance_mOhm;
  v.resistance_percent = 100.0 * R.value / whole;
  v.resistance_u_percent = 100.0 * R.u / whole;
  const double any = 1.0 - r.healthy;
  int top = 0;
  for (int k = 1; k < kinds; ++k)
    if (r.probability[std::size_t(k)] > r.probability[std::size_t(top)]) top = k;
  const double of_any = any > 0.0 ? r.probability[std::size_t(top)] / any : 0.0;
  const bool ohmic_only =
      Kind(top) == Kind::joint || Kind(top) == Kind::resistance || Kind(top) == Kind::sense;
  v.verdict = r.alarm && (r.seen || ohmic_only) ? Verdict::alarm
              : r.note || r.alarm               ? Verdict::note
              : r.seen                          ? Verdict::as_expected
                                                : Verdict::cannot_tell;
  const bool fault = v.verdict == Verdict::alarm || v.verdict == Verdict::note;
  if (fault && of_any > 0.6) v.kind = Kind(top);
  if (fault) v.since = r.since;
  if (v.verdict != Verdict::as_expected) {
    const auto all = next_measurements(estimator_, cell, facts_);
    v.next = all.front();
    if (v.verdict == Verdict::cannot_tell)  // without a full nothing else is worth much
      for (const NextMeasurement& m : all)
        if (m.hours == 8.0) v.next = m;
  }
  if (v.verdict == Verdict::cannot_tell) {
    v.sentence = "cannot tell: too few full charges in this record";
  } else if (v.verdict == Verdict::as_expected) {
    v.sentence = "as expected";
  } else if (v.kind) {
    v.sentence = fmt::format("{}, {}", words_of_kind[int(*v.kind)], size_of(*v.kind, v));
  } else {
    v.sentence = "something has changed; which kind of fault cannot be told yet";
  }
  return v;
}

CellVerdict Watcher::judge_short(int cell, const OddCell& odd) const {
  CellVerdict v;
  const CellReport r = estimator_.report(cell);
  v.change = r.change;
  const double whole = 0.7 * facts_.resistance_mOhm;
  v.resistance_percent = 100.0 * r.change[std::size_t(index(State::resistance))].value / whole;
  v.resistance_u_percent = 100.0 * r.change[std::size_t(index(State::resistance))].u / whole;
  v.healthy = 1.0 / 6.0;  // nothing in so short a record speaks for or against
  v.probability.fill(1.0 / 6.0);
  v.verdict = Verdict::cannot_tell;
  v.sentence = "cannot tell: the record is too short for a trend";
  v.next = NextMeasurement{"a record of some weeks with a full charge each week", 336.0, "", 0.0};
  if (odd.what == Odd::low_at_empty) {
    // Small and leaking look the same at one empty end; the odds are a sixth each before, and the
    // reading rules the others out as far as its score goes.
    const double against = std::exp(-0.5 * std::min(odd.z * odd.z, 40.0));
    double sum = 0.0;
    for (int k = 0; k < kinds; ++k)
      sum += v.probability[std::size_t(k)] *=
          Kind(k) == Kind::drift || Kind(k) == Kind::capacity ? 1.0 : std::max(against, 0.05);
    v.healthy *= std::max(against, 0.05);
    sum += v.healthy;
    for (double& p : v.probability) p /= sum;
    v.healthy /= sum;
    v.verdict = Verdict::note;
    v.sentence = fmt::format(
        "low at the empty end ({:.3f} V, median {:.3f} V): small or leaking, one charge cannot tell; repeat after a week of rest",
        odd.measured_V, odd.median_V);
    v.next = NextMeasurement{"the same charge again after a week of rest", 168.0, "", 0.0};
  } else if (odd.what == Odd::off_on_flat) {
    v.verdict = Verdict::note;
    v.sentence =
        fmt::format("reads {:+.0f} mV off all the way: joint, resistance or sense lead, {}",
                    odd.measured_V * 1e3,
                    short_.one_current() ? "one current cannot tell; repeat at another current"
                                         : "watch it at rest");
    double sum = 0.0;
    for (int k = 0; k < kinds; ++k)
      sum += v.probability[std::size_t(k)] *=
          Kind(k) == Kind::drift || Kind(k) == Kind::capacity ? 0.1 : 1.0;
    v.healthy *= 0.1;
    sum += v.healthy;
    for (double& p : v.probability) p /= sum;
    v.healthy /= sum;
    v.next = NextMeasurement{"the same at another current, or two minutes at 0.2 C and two at rest",
                             0.1, "Read all cells in both.", 0.0};
  }
  return v;
}

PackVerdict Watcher::verdict(const std::vector<std::string>& places,
                             const std::function<std::string(double)>& when) {
  builder_.finish();
  take();
  PackVerdict p;
  p.full_days = full_days_;
  p.through_Ah = through_Ah_;
  const ChargeCounter& c = builder_.counter();
  p.offset_mA = c.offset_A() * 1e3;
  p.offset_u_mA = c.offset_u_A() * 1e3;
  if (c.ever_full()) p.days_since_full = c.seconds_since_full() / 86400.0;
  p.lasting = known(first_s_) && last_s_ - first_s_ > 10.0 * 86400.0;
  const std::vector<OddCell> odd =
      p.lasting ? std::vector<OddCell>(places.size()) : short_.odd_cells();
  p.findings = rules_.findings(places, when);
  std::vector<std::pair<double, std::size_t>> by_score;
  for (std::size_t j = 0; j < places.size(); ++j) {
    p.cells.push_back(p.lasting ? judge_long(int(j)) : judge_short(int(j), odd[j]));
    const CellVerdict& v = p.cells.back();
    if (v.verdict == Verdict::note || v.verdict == Verdict::alarm)
      by_score.emplace_back(p.lasting ? v.healthy : -std::abs(odd[j].z), j);
  }
  std::stable_sort(by_score.begin(), by_score.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  for (const auto& [score, j] : by_score) {
    const CellVerdict& v = p.cells[j];
    findings::Finding f{.id = v.verdict == Verdict::alarm ? findings::Id::watch_cell_alarm
                                                          : findings::Id::watch_cell_note,
                        .severity = v.verdict == Verdict::alarm ? findings::Severity::caution
                                                                : findings::Severity::note,
                        .what = fmt::format("{}: {}.", places[j], v.sentence),
                        .where = places[j],
                        .why = "A weak cell limits its pack, and some faults heat.",
                        .basis = "docs/models/watch.md"};
    if (p.lasting) {
      f.measured = fmt::format("P(fault) {:.2f}", 1.0 - v.healthy);
      f.limit = fmt::format("{:.2f}", v.verdict == Verdict::alarm ? 0.95 : 0.5);
      if (v.since > 0) f.what += fmt::format(" First seen {}.", when(double(v.since) * 86400.0));
    } else {
      f.measured = fmt::format("{:.1f} robust standard deviations", odd[j].z);
      f.limit = "3.5";
    }
    if (v.next)
      f.remedy = fmt::format("Next: {}{}", v.next->what,
                             v.next->caution.empty() ? "." : ". " + v.next->caution);
    p.findings.push_back(std::move(f));
  }
  if (p.days_since_full && *p.days_since_full > 30.0)
    p.findings.push_back(
        {.id = findings::Id::watch_no_full_charge,
         .severity = findings::Severity::note,
         .what = fmt::format(
             "No full charge for {:.0f} days: drift cannot be seen and the state of charge is only counted.",
             *p.days_since_full),
         .where = "pack " + facts_.name,
         .measured = fmt::format("{:.0f} days", *p.days_since_full),
         .limit = "30 days",
         .why = "Offset and self-discharge show at full only.",
         .remedy = "Charge fully once a month.",
         .basis = "docs/models/watch.md"});
  return p;
}

}  // namespace watch
