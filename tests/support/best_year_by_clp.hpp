// SPDX-License-Identifier: Apache-2.0
// The best year as a linear programme, by a general-purpose solver (CLP, Debian's
// coinor-libclp-dev).
#pragma once

#include "site/optimum.hpp"

namespace support {

/// The same question as `site::optimum`; costs and sums of energies only.
[[nodiscard]] site::Bound best_year_by_clp(const site::Year& year, const site::Prices& prices,
                                           const site::Store& store,
                                           const site::BoundOptions& options = {});

}  // namespace support
