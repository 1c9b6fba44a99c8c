// SPDX-License-Identifier: Apache-2.0
#include "works/what_if.hpp"

#include <fmt/format.h>

#include "base/check.hpp"
#include "layout/layout.hpp"

namespace works {
namespace units = base::units;

match::Candidate candidate_of(const CellResult& c) {
  CHECK(c.capacity_Ah.has_value());
  const base::Figure& capacity =
      c.effective_capacity_Ah ? *c.effective_capacity_Ah : *c.capacity_Ah;
  return {c.label, capacity.value * units::Ah, c.resistance_mOhm ? c.resistance_mOhm->value : 0.0,
          c.leak_mA.value_or(0.0), c.tail_share.value_or(0.0)};
}

std::vector<match::Candidate> placed_candidates(const Plan& plan) {
  CHECK(plan.arrangement.has_value());
  std::vector<match::Candidate> list;
  for (const std::string& label : plan.arrangement->labels)
    for (const CellResult& c : plan.cells)
      if (c.label == label) list.push_back(candidate_of(c));
  return list;
}

double years_until(const steps::Use& use, double Ah, double least_Ah) {
  const auto holds = [&](double year) {
    const YearForecast left = steps::forecast_at(use, year);
    return Ah * 0.5 * (left.low + left.high) >= least_Ah;
  };
  if (holds(furthest_years)) return furthest_years;
  double yes = 0.0, no = furthest_years;  // what is left only falls: halve the span
  if (!holds(yes)) return 0.0;
  while (no - yes > 0.005) {
    const double middle = 0.5 * (yes + no);
    (holds(middle) ? yes : no) = middle;
  }
  return yes;
}

std::function<double(const match::Standing&)> years_of(const Project& project, const Plan& plan) {
  CHECK(plan.arrangement.has_value());
  const double least = project.use.end_percent() / 100.0 *
                       match::standing_of(plan.arrangement->assignment, placed_candidates(plan))
                           .through_groups.in(units::Ah);
  return [least, use = steps::use_of(project, plan)](const match::Standing& s) {
    return years_until(use, s.through_groups.in(units::Ah), least);
  };
}

base::Json to_json(const match::Effect& e, bool with_years) {
  base::Json json = {{"bank_change_Ah", e.bank_change_Ah},
                     {"energy_change", e.energy_change},
                     {"bank_Ah", e.after.bank.in(base::units::Ah)},
                     {"smallest_pack_Ah", e.after.smallest_pack.in(base::units::Ah)},
                     {"weakest",
                      {{"pack", layout::pack_name(static_cast<int>(e.after.weakest_pack))},
                       {"group", e.after.weakest_group + 1}}},
                     {"resistance_spread", e.after.resistance_spread},
                     {"leak_spread_mA", e.after.leak_spread_mA}};
  if (with_years)
    for (const auto& [key, years] : {std::pair{"before", e.years_before}, {"after", e.years_after}})
      json["years"][key] = years < furthest_years ? base::Json(years) : base::Json(nullptr);
  return json;
}

std::string places_by_hand(const match::Assignment& a, const std::vector<std::string>& labels) {
  std::string text;
  for (std::size_t pack = 0; pack < a.packs.size(); ++pack)
    for (std::size_t group = 0; group < a.packs[pack].groups.size(); ++group)
      for (const std::size_t cell : a.packs[pack].groups[group].cells)
        text +=
            fmt::format("{}{}@{}", text.empty() ? "" : ", ", labels[cell],
                        layout::place_name(static_cast<int>(pack), static_cast<int>(group), 0, 1));
  return text;
}

}  // namespace works
