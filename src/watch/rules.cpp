// SPDX-License-Identifier: Apache-2.0
#include "watch/rules.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace watch {

void Rules::Broken::note(double t, double more, double value, bool higher_is_worse) {
  if (readings == 0) first_s = t, worst = value;
  last_s = t;
  seconds += more;
  worst = higher_is_worse ? std::max(worst, value) : std::min(worst, value);
  ++readings;
}

Rules::Rules(PackFacts facts, RuleLimits limits)
    : facts_(std::move(facts)),
      limits_(limits),
      high_(std::size_t(facts_.series)),
      low_(std::size_t(facts_.series)) {}

void Rules::add(const Reading& r) {
  const double step = known(last_s_) ? std::max(0.0, r.time_s - last_s_) : 0.0;
  const double held = step > 3600.0 ? 0.0 : step;
  if (step > longest_silence_s_) {
    longest_silence_s_ = step;
    silence_from_s_ = last_s_;
  }
  last_s_ = r.time_s;
  for (std::size_t j = 0; j < r.cells_V.size() && j < high_.size(); ++j) {
    const double v = r.cells_V[j];
    if (!std::isfinite(v)) continue;
    if (v > limits_.high_V) high_[j].note(r.time_s, held, v, true);
    if (v < limits_.low_V) low_[j].note(r.time_s, held, v, false);
  }
  double coldest = r.temperature_C;
  for (const float c : r.cells_C)
    if (std::isfinite(c) && (!known(coldest) || c < coldest)) coldest = c;
  if (known(coldest) && coldest <= limits_.charge_min_C && known(r.current_A) &&
      r.current_A < -0.005 * facts_.capacity_Ah)
    cold_.note(r.time_s, held, coldest, false);
}

std::vector<findings::Finding> Rules::findings(
    const std::vector<std::string>& places, const std::function<std::string(double)>& when) const {
  std::vector<findings::Finding> all;
  const auto limit_broken = [&](const std::vector<Broken>& broken, bool high) {
    std::string where;
    double seconds = 0.0, worst = 0.0, first = not_known;
    std::size_t cells = 0;
    for (std::size_t j = 0; j < broken.size(); ++j) {
      const Broken& b = broken[j];
      if (b.readings == 0) continue;
      where += (where.empty() ? "" : ", ") + places[j];
      worst = cells == 0 ? b.worst : high ? std::max(worst, b.worst) : std::min(worst, b.worst);
      first = cells == 0 ? b.first_s : std::min(first, b.first_s);
      seconds = std::max(seconds, b.seconds);
      ++cells;
    }
    if (cells == 0) return;
    all.push_back(
        {.id = high ? findings::Id::watch_cell_over_limit : findings::Id::watch_cell_under_limit,
         .severity = findings::Severity::caution,
         .what = fmt::format(
             "{} {} its voltage limit: {:.3f} V at most extreme, {:.0f} min in all, first {}.",
             cells == 1 ? "A cell passes" : fmt::format("{} cells pass", cells),
             high ? "over" : "under", worst, seconds / 60.0, when(first)),
         .where = where,
         .measured = fmt::format("{:.3f} V", worst),
         .limit = fmt::format("{:.3f} V", high ? limits_.high_V : limits_.low_V),
         .why = high ? "Above its limit a cell plates lithium and gasses."
                     : "Below its limit a cell dissolves copper and may short when charged again.",
         .remedy = "Check what should have stopped it: charger, BMS limit, its sense leads.",
         .basis = "the project's own limits"});
  };
  limit_broken(high_, true);
  limit_broken(low_, false);
  if (cold_.readings > 0)
    all.push_back(
        {.id = findings::Id::watch_charged_cold,
         .severity = findings::Severity::caution,
         .what = fmt::format(
             "Charged at {:.0f} °C, at or under the limit, for {:.0f} min in all, first {}.",
             cold_.worst, cold_.seconds / 60.0, when(cold_.first_s)),
         .where = "pack " + facts_.name,
         .measured = fmt::format("{:.1f} °C", cold_.worst),
         .limit = fmt::format("{:.1f} °C", limits_.charge_min_C),
         .why = "Cold cells plate lithium while charging; the loss stays and can short.",
         .remedy =
             "Set the charge limit by the temperature at the cell; warm the box before charging.",
         .basis = "common practice, no source"});
  if (longest_silence_s_ > limits_.silent_hours * 3600.0)
    all.push_back({.id = findings::Id::watch_record_silent,
                   .severity = findings::Severity::note,
                   .what = fmt::format("The record is silent for {:.1f} h from {}.",
                                       longest_silence_s_ / 3600.0, when(silence_from_s_)),
                   .where = "pack " + facts_.name,
                   .measured = fmt::format("{:.1f} h", longest_silence_s_ / 3600.0),
                   .limit = fmt::format("{:.0f} h", limits_.silent_hours),
                   .why = "What happened then is not known; charge is not counted across.",
                   .remedy = "Check the recorder, its network and its power.",
                   .basis = "common practice, no source"});
  return all;
}

std::vector<findings::Finding> compare_packs(const std::vector<std::string>& names,
                                             const std::vector<double>& through_Ah,
                                             const std::vector<double>& mean_V) {
  std::vector<findings::Finding> all;
  if (names.size() < 2) return all;
  const double most = *std::max_element(through_Ah.begin(), through_Ah.end());
  for (std::size_t p = 0; p < names.size(); ++p)
    if (most > 1.0 && through_Ah[p] < 0.5 * most)
      all.push_back(
          {.id = findings::Id::watch_pack_shares_little,
           .severity = findings::Severity::caution,
           .what = fmt::format("Pack {} carries {:.0f} % of what the busiest pack does.", names[p],
                               100.0 * through_Ah[p] / most),
           .where = "pack " + names[p],
           .measured = fmt::format("{:.0f} Ah", through_Ah[p]),
           .limit = fmt::format("half of {:.0f} Ah", most),
           .why =
               "A pack that dropped out, or a bad joint outside the cells' taps, loads the others.",
           .remedy =
               "Check its breaker, fuse and leads; mind that packs apart in voltage must not be joined at once.",
           .basis = "common practice, no source"});
  const auto [low, high] = std::minmax_element(mean_V.begin(), mean_V.end());
  if (*high - *low > 0.5)
    all.push_back(
        {.id = findings::Id::watch_packs_apart,
         .severity = findings::Severity::caution,
         .what = fmt::format("Packs stand {:.2f} V apart on average.", *high - *low),
         .where = "bank",
         .measured = fmt::format("{:.2f} V", *high - *low),
         .limit = "0.50 V",
         .why =
             "Joined packs read the same but for their leads; otherwise one is not joined or its meter is off.",
         .remedy = "Measure both at their terminals before joining anything.",
         .basis = "common practice, no source"});
  return all;
}

}  // namespace watch
