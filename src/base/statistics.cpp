// SPDX-License-Identifier: Apache-2.0
#include "base/statistics.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "base/check.hpp"

namespace base {

double mean(std::span<const double> xs) {
  CHECK(!xs.empty());
  double sum = 0.0;
  for (const double x : xs) sum += x;
  return sum / static_cast<double>(xs.size());
}

double standard_deviation(std::span<const double> xs) {
  if (xs.size() < 2) return 0.0;
  const double centre = mean(xs);
  double sum = 0.0;
  for (const double x : xs) sum += (x - centre) * (x - centre);
  return std::sqrt(sum / static_cast<double>(xs.size() - 1));
}

double quantile(std::span<const double> xs, double q) {
  CHECK(!xs.empty() && q >= 0.0 && q <= 1.0);
  std::vector<double> sorted(xs.begin(), xs.end());
  std::sort(sorted.begin(), sorted.end());
  const double position = q * static_cast<double>(sorted.size() - 1);
  const auto below = static_cast<std::size_t>(position);
  if (below + 1 >= sorted.size()) return sorted.back();
  const double share = position - static_cast<double>(below);
  return sorted[below] + share * (sorted[below + 1] - sorted[below]);
}

double median(std::span<const double> xs) { return quantile(xs, 0.5); }

double median_absolute_deviation(std::span<const double> xs) {
  const double centre = median(xs);
  std::vector<double> deviations;
  deviations.reserve(xs.size());
  for (const double x : xs) deviations.push_back(std::abs(x - centre));
  return median(deviations);
}

double normal_probability_below(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

double binomial_at_least(int trials, double p, int successes) {
  CHECK(trials >= 0 && p >= 0.0 && p <= 1.0);
  if (successes <= 0) return 1.0;
  if (successes > trials) return 0.0;
  const boost::math::binomial_distribution<double> distribution(trials, p);
  return boost::math::cdf(boost::math::complement(distribution, successes - 1));
}

double expected_minimum_of_normals(int n) {
  CHECK(n >= 1);
  // E[min] = ∫ x · n φ(x) (1 − Φ(x))^(n−1) dx
  const auto integrand = [n](double x) {
    const double density = std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
    return x * n * density * std::pow(normal_probability_below(-x), n - 1);
  };
  return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(integrand, -12.0, 12.0, 12,
                                                                       1e-12);
}

OutlierTest grubbs(std::span<const double> xs, Side side, double alpha) {
  CHECK(xs.size() >= 3 && alpha > 0.0 && alpha < 1.0);
  const double centre = mean(xs), spread = standard_deviation(xs);
  const auto n = static_cast<double>(xs.size());
  OutlierTest test;
  std::size_t worst = 0;
  for (std::size_t i = 0; i < xs.size(); ++i) {
    const double deviation = side == Side::max   ? xs[i] - centre
                             : side == Side::min ? centre - xs[i]
                                                 : std::abs(xs[i] - centre);
    const double g = spread > 0.0 ? deviation / spread : 0.0;
    if (g > test.statistic) test.statistic = g, worst = i;
  }
  const boost::math::students_t_distribution<double> student(n - 2.0);
  const double tail = alpha / (side == Side::two ? 2.0 * n : n);
  const double t = boost::math::quantile(boost::math::complement(student, tail));
  test.critical = (n - 1.0) / std::sqrt(n) * std::sqrt(t * t / (n - 2.0 + t * t));
  if (test.statistic > test.critical) test.outliers.push_back(worst);
  return test;
}

OutlierTest modified_z(std::span<const double> xs, Side side) {
  CHECK(!xs.empty());
  const double centre = median(xs), spread = median_absolute_deviation(xs);
  OutlierTest test;
  test.critical = 3.5;
  for (std::size_t i = 0; i < xs.size(); ++i) {
    const double deviation = side == Side::min ? centre - xs[i] : xs[i] - centre;
    const double size = side == Side::two ? std::abs(deviation) : deviation;
    double m = 0.0;
    if (spread > 0.0)
      m = 0.6745 * size / spread;
    else if (size > 0.0)
      m = std::numeric_limits<double>::infinity();
    test.statistic = std::max(test.statistic, m);
    if (m > test.critical) test.outliers.push_back(i);
  }
  return test;
}

}  // namespace base
