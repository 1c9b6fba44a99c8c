// SPDX-License-Identifier: Apache-2.0
// Every table of a project is read as the steps will read it, before it is kept.
#pragma once

#include "project/project.hpp"

namespace store {

/// Throws InputError, in the table's file, for the first one that a step could not read: the
/// house's load, sun, weather, prices and tariff, the testers' channels; alone and against each
/// other. (Runs, devices, joints and sense leads are read by project::check.)
void try_every_table(const project::Project& project);

}  // namespace store
