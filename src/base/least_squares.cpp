// SPDX-License-Identifier: Apache-2.0
#include "base/least_squares.hpp"

#include <cmath>
#include <limits>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/Jacobi>
#include <Eigen/QR>
#include <unsupported/Eigen/NonLinearOptimization>

#include "base/check.hpp"

namespace base {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// What Eigen's solver asks of a problem.
class Problem {
 public:
  using Scalar = double;
  Problem(const ResidualFunction& residuals, Eigen::Index inputs, Eigen::Index values)
      : residuals_(residuals), inputs_(inputs), values_(values) {}
  [[nodiscard]] Eigen::Index inputs() const { return inputs_; }
  [[nodiscard]] Eigen::Index values() const { return values_; }

  int operator()(const VectorXd& x, VectorXd& r) const {
    residuals_({x.data(), static_cast<std::size_t>(x.size())},
               {r.data(), static_cast<std::size_t>(r.size())});
    return r.allFinite() ? 0 : -1;
  }
  int df(const VectorXd& x, MatrixXd& jacobian) const {
    VectorXd at = x, above(values_), below(values_);
    for (Eigen::Index k = 0; k < inputs_; ++k) {
      const double step =
          std::cbrt(std::numeric_limits<double>::epsilon()) * std::max(std::abs(x[k]), 1e-6);
      at[k] = x[k] + step;
      (*this)(at, above);
      at[k] = x[k] - step;
      (*this)(at, below);
      at[k] = x[k];
      jacobian.col(k) = (above - below) / (2.0 * step);
    }
    return jacobian.allFinite() ? 0 : -1;
  }

 private:
  const ResidualFunction& residuals_;
  Eigen::Index inputs_, values_;
};

}  // namespace

LeastSquares least_squares(const ResidualFunction& residuals, std::span<const double> start,
                           std::size_t count) {
  CHECK(!start.empty() && count > start.size());
  const auto inputs = static_cast<Eigen::Index>(start.size()),
             values = static_cast<Eigen::Index>(count);
  Problem problem(residuals, inputs, values);
  VectorXd x = Eigen::Map<const VectorXd>(start.data(), inputs);
  Eigen::LevenbergMarquardt<Problem> solver(problem);
  solver.parameters.ftol = solver.parameters.xtol = 1e-14;
  solver.parameters.gtol = 0.0;
  solver.parameters.maxfev = 2000;
  const auto status = solver.minimize(x);

  LeastSquares fit;
  VectorXd r(values);
  problem(x, r);
  MatrixXd jacobian(values, inputs);
  problem.df(x, jacobian);
  fit.parameters.assign(x.data(), x.data() + inputs);
  fit.residual_sum = r.squaredNorm();
  fit.residual_sd = std::sqrt(fit.residual_sum / double(values - inputs));
  const MatrixXd normal = jacobian.transpose() * jacobian;
  const Eigen::LDLT<MatrixXd> decomposition(normal);
  const bool full_rank = decomposition.isPositive() && decomposition.rcond() > 1e-15;
  const MatrixXd covariance =
      full_rank ? MatrixXd(decomposition.solve(MatrixXd::Identity(inputs, inputs)))
                : MatrixXd::Zero(inputs, inputs);
  for (Eigen::Index k = 0; k < inputs; ++k)
    fit.standard_errors.push_back(fit.residual_sd * std::sqrt(std::max(0.0, covariance(k, k))));
  using namespace Eigen::LevenbergMarquardtSpace;
  fit.converged = full_rank && status != ImproperInputParameters &&
                  status != TooManyFunctionEvaluation && status != UserAsked;
  return fit;
}

}  // namespace base
