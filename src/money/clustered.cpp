// SPDX-License-Identifier: Apache-2.0
#include "money/clustered.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"

namespace money {
namespace {

constexpr double near_zero = 1e-9;

/// log P(k good of n).
double log_good(int n, int k, double good, double correlation) {
  // Pólya's urn: products, so that a correlation of nothing needs no limit.
  const double spread = correlation / (1.0 - correlation);
  double sum = std::lgamma(double(n) + 1.0) - std::lgamma(double(k) + 1.0) -
               std::lgamma(double(n - k) + 1.0);
  for (int i = 0; i < k; ++i) sum += std::log(std::max(1e-300, good + spread * i));
  for (int i = 0; i < n - k; ++i) sum += std::log(std::max(1e-300, 1.0 - good + spread * i));
  for (int i = 0; i < n; ++i) sum -= std::log1p(spread * i);
  return sum;
}

}  // namespace

std::vector<double> good_of(int n, const Rejects& r) {
  CHECK(n >= 0 && r.share >= 0.0 && r.share <= 1.0);
  CHECK(r.correlation >= 0.0 && r.correlation < 1.0);
  std::vector<double> p(std::size_t(n) + 1, 0.0);
  if (r.share < near_zero || r.share > 1.0 - near_zero) {
    p[r.share < 0.5 ? std::size_t(n) : 0] = 1.0;
    return p;
  }
  for (int k = 0; k <= n; ++k)
    p[std::size_t(k)] = std::exp(log_good(n, k, 1.0 - r.share, r.correlation));
  return p;
}

std::vector<double> good_of_lots(std::span<const int> lots, const Rejects& rejects) {
  std::vector<double> all = {1.0};
  for (const int n : lots) {
    const std::vector<double> one = good_of(n, rejects);
    std::vector<double> sum(all.size() + one.size() - 1, 0.0);
    for (std::size_t a = 0; a < all.size(); ++a)
      for (std::size_t b = 0; b < one.size(); ++b) sum[a + b] += all[a] * one[b];
    all = std::move(sum);
  }
  return all;
}

ClusteredOrder order_of(int needed, int order, const Rejects& rejects, int lots) {
  CHECK(needed >= 1 && order >= 1 && lots >= 1 && lots <= order);
  std::vector<int> sizes;
  for (int l = 0; l < lots; ++l) sizes.push_back(order / lots + (l < order % lots));
  const auto sum = [&](const std::vector<double>& p, ClusteredOrder& o) {
    double odds = 0.0;
    for (std::size_t k = 0; k < p.size(); ++k) {
      const double more = double(k) - double(needed);
      if (more >= 0.0) odds += p[k];
      o.expected_spare += std::max(0.0, more) * p[k];
      o.expected_short += std::max(0.0, -more) * p[k];
    }
    return odds;
  };
  ClusteredOrder o, alone;
  o.order = order;
  o.odds_if_independent = sum(good_of(order, {rejects.share, 0.0}), alone);
  o.odds = sum(good_of_lots(sizes, rejects), o);
  return o;
}

ClusteredOrder order_for(int needed, double odds, const Rejects& rejects, int lots) {
  CHECK(needed >= 1 && odds < 1.0);
  const int most = 4 * needed + 40;
  ClusteredOrder o;
  for (int n = std::max(needed, lots); n <= most; ++n) {
    o = order_of(needed, n, rejects, lots);
    if (o.odds >= odds) break;
  }
  return o;
}

Rejects learnt(std::span<const LotSeen> lots, const Rejects& before) {
  // Shares and correlations by a grid that is finer where both are small.
  constexpr int shares = 80, correlations = 40;
  const double share = std::clamp(before.share, 1e-3, 0.5), as_cells = 20.0;
  std::vector<double> weight;
  double most = -1e300;
  const auto share_at = [](int i) { return 0.5 * std::pow((i + 0.5) / shares, 2.0); };
  const auto correlation_at = [](int j) { return 0.5 * std::pow((j + 0.5) / correlations, 2.0); };
  for (int i = 0; i < shares; ++i)
    for (int j = 0; j < correlations; ++j) {
      const double s = share_at(i), c = correlation_at(j);
      // The grid's spacing goes with the root; a beta prior of so many cells; an exponential one.
      double log_weight = 0.5 * std::log(s * c) + (share * as_cells - 1.0) * std::log(s) +
                          ((1.0 - share) * as_cells - 1.0) * std::log(1.0 - s) -
                          c / std::max(1e-3, before.correlation);
      for (const LotSeen& lot : lots) {
        CHECK(lot.cells >= lot.rejects && lot.rejects >= 0);
        log_weight += log_good(lot.cells, lot.cells - lot.rejects, 1.0 - s, c);
      }
      weight.push_back(log_weight);
      most = std::max(most, log_weight);
    }
  double sum = 0.0;
  Rejects mean{0.0, 0.0};
  for (int i = 0; i < shares; ++i)
    for (int j = 0; j < correlations; ++j) {
      const double w = std::exp(weight[std::size_t(i * correlations + j)] - most);
      sum += w, mean.share += w * share_at(i), mean.correlation += w * correlation_at(j);
    }
  mean.share /= sum, mean.correlation /= sum;
  return mean;
}

}  // namespace money
