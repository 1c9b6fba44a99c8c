// SPDX-License-Identifier: Apache-2.0
#include "watch/sequential.hpp"

#include <cmath>

#include <Eigen/Dense>

#include "base/check.hpp"
#include "base/statistics.hpp"

namespace watch {

double cusum_run_length(double k, double h, double mean, int chain) {
  CHECK(chain >= 2 && h > 0.0);
  // State i stands for S in a cell of width w, the first one half as wide about zero.
  const double w = 2.0 * h / (2.0 * chain - 1.0);
  Eigen::MatrixXd rest = Eigen::MatrixXd::Identity(chain, chain);
  const auto below = [&](double s) { return base::normal_probability_below(s - mean + k); };
  for (int i = 0; i < chain; ++i) {
    rest(i, 0) -= below((0.5 - i) * w);
    for (int j = 1; j < chain; ++j)
      rest(i, j) -= below((j - i + 0.5) * w) - below((j - i - 0.5) * w);
  }
  return rest.partialPivLu().solve(Eigen::VectorXd::Ones(chain))(0);
}

double capacity_total_least_squares(std::span<const double> x, std::span<const double> y,
                                    double u_change, double u_Ah) {
  CHECK(!x.empty() && x.size() == y.size() && u_change > 0.0 && u_Ah > 0.0);
  double c1 = 0.0, c2 = 0.0, c3 = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    c1 += x[i] * x[i];
    c2 += x[i] * y[i];
    c3 += y[i] * y[i];
  }
  const double K2 = std::pow(u_change / u_Ah, 2), a = c1 - K2 * c3;
  return (-a + std::sqrt(a * a + 4.0 * K2 * c2 * c2)) / (2.0 * K2 * c2);
}

double probability_outside(double mean, double sd, double centre, double band) {
  return base::normal_probability_below((centre - band - mean) / sd) + 1.0 -
         base::normal_probability_below((centre + band - mean) / sd);
}

}  // namespace watch
