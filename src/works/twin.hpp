// SPDX-License-Identifier: Apache-2.0
// The project's bank as a twin: each place with the cell that stands there.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bank/answers.hpp"
#include "bank/rehearsal.hpp"
#include "works/plan.hpp"

namespace works {

struct TwinOfProject {
  bank::Setup setup;
  std::vector<std::string> names;  ///< of each cell: its label, or its place where none is matched
  std::vector<findings::Finding> findings;
};

/// Cells by the model fitted to their own log where it shows one, else by their measured capacity
/// and resistance where they are matched, else as the sheet rates them; wires, limits and balancer
/// as the project says.
[[nodiscard]] TwinOfProject twin_of(const Project& project, const Plan& plan, double start_charge,
                                    double start_C);

/// What rehearsals need of a project.
[[nodiscard]] bank::RehearsalInput rehearsal_input(const Project& project, const Plan& plan);

/// What the book shows of the twin.
struct TwinStudy {
  struct CyclePoint {
    double hours = 0.0, bus_V = 0.0, lowest_V = 0.0, highest_V = 0.0, hottest_C = 0.0;
    std::vector<double> pack_A;
  };
  std::vector<CyclePoint> cycle;          ///< full, empty at the design power, full again
  bank::Balancing balancing;              ///< from cells two percent of charge apart
  bank::ParallelTop parallel;             ///< one pack's cells, from as they are delivered
  bank::SeriesThenParallel series_first;  ///< the same cells, first charged as a pack
  std::vector<bank::Rehearsal> rehearsals;
};
/// Nothing for a bank of more than `most_cells`: that would keep a person waiting.
inline constexpr int most_cells = 2000;
[[nodiscard]] std::optional<TwinStudy> study(const Project& project, const Plan& plan);

}  // namespace works
