// SPDX-License-Identifier: Apache-2.0
#include "bench/shared_errors.hpp"

#include <cmath>
#include <map>
#include <string_view>

#include "base/check.hpp"

namespace bench {

SplitMeasure split(double value, std::span<const BudgetLine> budget, std::string channel) {
  double common = 0.0, own = 0.0;
  for (const BudgetLine& line : budget) {
    const bool shared = line.input.starts_with("current gain") ||
                        line.input.starts_with("current offset") || line.input == "clock";
    (shared ? common : own) += line.contribution_Ah * line.contribution_Ah;
  }
  return {value, std::sqrt(common), std::sqrt(own), std::move(channel)};
}

Measure sum_of(std::span<const SplitMeasure> cells, std::span<const double> weights) {
  CHECK(weights.empty() || weights.size() == cells.size());
  std::map<std::string_view, double> common;
  Measure sum;
  double own = 0.0;
  for (std::size_t k = 0; k < cells.size(); ++k) {
    const double w = weights.empty() ? 1.0 : weights[k];
    sum.value += w * cells[k].value;
    own += w * w * cells[k].own_u * cells[k].own_u;
    common[cells[k].channel] += w * cells[k].common_u;
  }
  for (const auto& [channel, u] : common) own += u * u;
  sum.u = std::sqrt(own);
  return sum;
}

Measure difference_of(const SplitMeasure& a, const SplitMeasure& b) {
  const SplitMeasure both[] = {a, b};
  const double weights[] = {1.0, -1.0};
  return sum_of(both, weights);
}

}  // namespace bench
