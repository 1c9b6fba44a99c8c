// SPDX-License-Identifier: Apache-2.0
#include "bench/lot.hpp"

#include <algorithm>
#include <cmath>

#include "base/statistics.hpp"

namespace bench {
namespace {

std::vector<double> plain(const LotQuantity& quantity) {
  std::vector<double> values;
  for (const Measure& m : quantity.values) values.push_back(m.value);
  return values;
}

/// Bars: as many as the square root of the count asks for, five at least and twenty at most.
Histogram histogram_of(const std::vector<double>& values, double low, double high) {
  Histogram h;
  const auto bars =
      static_cast<std::size_t>(std::clamp(std::ceil(std::sqrt(double(values.size()))), 5.0, 20.0));
  h.from = low;
  h.width = high > low ? (high - low) / double(bars) : 1.0;
  h.counts.assign(bars, 0);
  for (const double v : values)
    ++h.counts[std::min(bars - 1, static_cast<std::size_t>(std::max(0.0, (v - low) / h.width)))];
  return h;
}

}  // namespace

Distribution distribution_of(const LotQuantity& quantity) {
  Distribution d;
  const std::vector<double> values = plain(quantity);
  d.count = values.size();
  if (values.empty()) return d;
  d.median = base::median(values);
  d.mean = base::mean(values);
  d.sd = base::standard_deviation(values);
  d.mad = base::median_absolute_deviation(values);
  d.lowest = *std::min_element(values.begin(), values.end());
  d.highest = *std::max_element(values.begin(), values.end());
  std::vector<double> us;
  for (const Measure& m : quantity.values) us.push_back(m.u);
  d.measurement_u = base::median(us);
  d.histogram = histogram_of(values, d.lowest, d.highest);
  return d;
}

std::optional<Outliers> outliers_of(const LotQuantity& quantity) {
  const std::vector<double> values = plain(quantity);
  if (values.size() < 7 || base::standard_deviation(values) <= 0.0) return std::nullopt;
  Outliers o;
  const base::OutlierTest grubbs = base::grubbs(values, base::Side::two, 0.05);
  o.by_grubbs = grubbs.outliers;
  o.grubbs_statistic = grubbs.statistic;
  o.grubbs_critical = grubbs.critical;
  const base::OutlierTest median = base::modified_z(values, base::Side::two);
  o.by_median = median.outliers;
  o.largest_score = median.statistic;
  return o;
}

std::vector<Judgement> judge_lot(const LotQuantity& quantity, const Limit& limit, double risk,
                                 double u_where_unknown) {
  std::vector<Judgement> verdicts;
  for (const Measure& m : quantity.values)
    verdicts.push_back(
        judge(m.value, m.u > 0.0 ? m.u : u_where_unknown, limit.value, limit.side, risk));
  return verdicts;
}

}  // namespace bench
