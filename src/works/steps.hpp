// SPDX-License-Identifier: Apache-2.0
// The steps of plan(), in the order of the work. Each fills its part of the Plan from the Project
// and from what the steps before it found.
#pragma once

#include "works/plan.hpp"
#include "works/recall.hpp"

namespace works::steps {

void worth_of_matching(const Project& project, Plan& plan);  ///< after choose_and_size
void choose_and_size(const Project& project, Plan& plan);
void receive(const Project& project, Plan& plan);
void test_cells(const Project& project, Plan& plan, Recall& recall);
void spread_of_lot(const Project& project, Plan& plan);
void queue_tests(const Project& project, Plan& plan);
void match_cells(const Project& project, Plan& plan, Recall& recall);
void house(const Project& project, Plan& plan);           ///< into size; after choose_and_size
void cost_over_life(const Project& project, Plan& plan);  ///< after house
void wire(const Project& project, Plan& plan);
void commission(const Project& project, Plan& plan);
void forecast_and_watch(const Project& project, Plan& plan);

/// How the cells are used: by the first year at the house where that is known, else as [use] says.
struct Use {
  double cycles_a_year = 0.0, depth = 0.0, mean_charge = 0.0, c_rate = 0.0, temperature_C = 0.0;
  bool from_house = false;
};
[[nodiscard]] Use use_of(const Project& project, const Plan& plan);
/// What both ageing laws leave after so many years of the same use, as shares of new.
[[nodiscard]] YearForecast forecast_at(const Use& use, double year);
/// Capacity that the bank is reckoned with: the smallest group of the arrangement over its cells,
/// else rated.
[[nodiscard]] base::Figure cell_capacity(const Project& project, const Plan& plan);
/// Resistance of one cell: median of those tested, else the sheet's.
[[nodiscard]] base::Figure cell_resistance(const Project& project, const Plan& plan);

}  // namespace works::steps
