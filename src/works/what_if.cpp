// SPDX-License-Identifier: Apache-2.0
#include "works/what_if.hpp"

#include "base/check.hpp"

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

std::function<double(const match::Standing&)> years_of(const Project& project, const Plan& plan) {
  CHECK(plan.arrangement.has_value() && !plan.years.empty());
  const double least =
      project.number("use", "end_percent") / 100.0 *
      plan.arrangement->assignment.bank_capacity.in(units::Ah)*project.number("layout", "series");
  return [least, years = plan.years](const match::Standing& s) {
    const double bank = s.through_groups.in(units::Ah);
    double before = bank, year = 0.0;
    for (const YearForecast& y : years) {
      const double now = bank * 0.5 * (y.low + y.high);
      if (now < least)
        return before <= now ? y.year : year + (y.year - year) * (before - least) / (before - now);
      before = now;
      year = y.year;
    }
    return year;
  };
}

}  // namespace works
