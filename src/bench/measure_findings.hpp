// SPDX-License-Identifier: Apache-2.0
// What is to be said of a log's measures.
#pragma once

#include <vector>

#include "bench/measure.hpp"

namespace bench {

/// A charge is finished for certain where its current has fallen: a voltage limit alone is not
/// full.
[[nodiscard]] bool tapered_at_end(const logs::Log& log, const Run& charge);

/// Ours; the reader's are the log's own.
[[nodiscard]] std::vector<findings::Finding> findings_of(const logs::Log& log, const Report& report,
                                                         const Tester& tester,
                                                         const ReferenceConditions& reference);

}  // namespace bench
