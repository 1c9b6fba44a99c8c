// SPDX-License-Identifier: Apache-2.0
// The project as the lower floors see it: one place where settings and tables become their types.
#pragma once

#include <vector>

#include "bench/reference.hpp"
#include "bench/uncertainty.hpp"
#include "cell/datasheet.hpp"
#include "layout/layout.hpp"
#include "logs/read_options.hpp"
#include "money/money.hpp"
#include "project/project.hpp"
#include "wiring/circuit.hpp"

namespace project {

[[nodiscard]] cell::Datasheet datasheet(const Project& project);
[[nodiscard]] layout::Layout layout_of(const Project& project);
[[nodiscard]] layout::Limits limits(const Project& project);
[[nodiscard]] bench::Tester tester(const Project& project);
/// How its logs are to be read, where [logs] says so; every bad row is left out and counted. Throws
/// InputError for a column that is told wrongly.
[[nodiscard]] logs::ReadOptions read_options(const Project& project);
[[nodiscard]] bench::ReferenceConditions reference_conditions(const Project& project);
[[nodiscard]] money::Purchase purchase(const Offer& offer);
/// The direct-current side: runs.csv and devices.csv where they are there, else [wiring] and what
/// is usually needed. Throws InputError that names line and column of either file.
[[nodiscard]] std::vector<wiring::Run> runs_of(const Project& project);
[[nodiscard]] wiring::Circuit circuit_of(const Project& project, const wiring::Supply& supply);

}  // namespace project
