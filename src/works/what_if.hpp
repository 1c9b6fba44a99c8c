// SPDX-License-Identifier: Apache-2.0
// What a change of places would do to a planned bank, in years too.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "base/json.hpp"
#include "match/what_if.hpp"
#include "works/plan.hpp"
#include "works/steps.hpp"

namespace works {

/// A tested cell as matching sees it: its capacity at the bank's design current and temperature
/// where that is known. Requires a capacity.
[[nodiscard]] match::Candidate candidate_of(const CellResult& cell);

/// The cells that the plan's arrangement speaks of, in its order: capacities as they count for
/// places. Requires an arrangement.
[[nodiscard]] std::vector<match::Candidate> placed_candidates(const Plan& plan);

/// As far as `years_of` looks; a bank that holds enough by then gets this number.
inline constexpr double furthest_years = 100.0;

/// Years until so much capacity has faded below `least_Ah` in the same use, by the mean of both
/// ageing laws; 0 where it is below from the start.
[[nodiscard]] double years_until(const steps::Use& use, double Ah, double least_Ah);

/// Years until a bank of that standing holds less than [use] end_percent of what the planned bank
/// holds new, by the mean of both ageing laws: past the laws' own range it extrapolates, as the
/// forecast says. That a smaller bank cycles deeper is left aside here.
[[nodiscard]] std::function<double(const match::Standing&)> years_of(const Project& project,
                                                                     const Plan& plan);

/// What a change does, as the command and the page show it; `with_years` where they were asked for.
[[nodiscard]] base::Json to_json(const match::Effect& effect, bool with_years);

/// [match] places for an assignment: every placed cell with its place, "C01@A-01, C02@A-02".
/// `labels` are those of the candidates that its indices mean.
[[nodiscard]] std::string places_by_hand(const match::Assignment& assignment,
                                         const std::vector<std::string>& labels);

}  // namespace works
