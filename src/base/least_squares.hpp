// SPDX-License-Identifier: Apache-2.0
// Nonlinear least squares: Eigen's port of MINPACK's Levenberg-Marquardt behind one function, and
// the covariance that belongs to the fit.
#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <vector>

namespace base {

struct LeastSquares {
  std::vector<double> parameters;
  std::vector<double> standard_errors;  ///< zero where the residuals do not depend on it
  double residual_sum = 0.0;            ///< of squares
  double residual_sd = 0.0;             ///< with n − p degrees of freedom
  bool converged = false;
};

/// Fills the residuals at these parameters; as many as `residuals` has room for.
using ResidualFunction =
    std::function<void(std::span<const double> parameters, std::span<double> residuals)>;

/// Least sum of squared residuals from `start`. Derivatives by central differences. More residuals
/// than parameters. Parameters are free: give logarithms of what must be positive. Checked against
/// certified values. [NIST-StRD]
[[nodiscard]] LeastSquares least_squares(const ResidualFunction& residuals,
                                         std::span<const double> start, std::size_t count);

}  // namespace base
