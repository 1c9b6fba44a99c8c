// SPDX-License-Identifier: Apache-2.0
#include "site/cutting_planes.hpp"

#include <cmath>

#include "base/check.hpp"

namespace site {

// Primal: min price·Σy + t with t ≥ value_p + slope_p·y, y ≤ high, y ≥ 0.
// Dual: max Σ a_p value_p − Σ v_k high_k with Σ a_p = 1 and −Σ a_p slope_pk − v_k + s_k = price.
CuttingPlanes::CuttingPlanes(double price, std::vector<double> high, double value_at_high)
    : price_(price), high_(std::move(high)), at_(high_), rows_(high_.size() + 1) {
  planes_.push_back({value_at_high, std::vector<double>(high_.size(), 0.0)});
  basis_.push_back(2 * high_.size());
  for (std::size_t k = 0; k < high_.size(); ++k) basis_.push_back(2 * k + 1);
  inverse_.assign(rows_ * rows_, 0.0);
  for (std::size_t r = 0; r < rows_; ++r) inverse_[r * rows_ + r] = 1.0;
  basic_.assign(rows_, price_);
  basic_[0] = 1.0;
}

void CuttingPlanes::add(std::span<const double> at, double value, std::span<const double> slope) {
  CHECK(at.size() == high_.size() && slope.size() == high_.size());
  double at_zero = value;
  for (std::size_t k = 0; k < at.size(); ++k) at_zero -= slope[k] * at[k];
  planes_.push_back({at_zero, {slope.begin(), slope.end()}});
}

double CuttingPlanes::cost_of(std::size_t column) const {
  const std::size_t figures = 2 * high_.size();
  if (column >= figures) return planes_[column - figures].value;
  return column % 2 == 0 ? -high_[column / 2] : 0.0;
}

void CuttingPlanes::column_of(std::size_t column, std::vector<double>& into) const {
  into.assign(rows_, 0.0);
  const std::size_t figures = 2 * high_.size();
  if (column >= figures) {
    into[0] = 1.0;
    for (std::size_t k = 0; k < high_.size(); ++k)
      into[k + 1] = -planes_[column - figures].slope[k];
  } else {
    into[column / 2 + 1] = column % 2 == 0 ? -1.0 : 1.0;
  }
}

bool CuttingPlanes::solve() {
  const std::size_t columns = 2 * high_.size() + planes_.size();
  std::vector<double> column, price(rows_), step(rows_);
  for (int pivots = 0; pivots < 5000; ++pivots) {
    for (std::size_t c = 0; c < rows_; ++c) {
      price[c] = 0.0;
      for (std::size_t r = 0; r < rows_; ++r)
        price[c] += cost_of(basis_[r]) * inverse_[r * rows_ + c];
    }
    std::size_t enters = columns;
    double best = 1e-11 * (1.0 + std::abs(price[0]));
    for (std::size_t j = 0; j < columns; ++j) {
      column_of(j, column);
      double gain = cost_of(j);
      for (std::size_t r = 0; r < rows_; ++r) gain -= price[r] * column[r];
      if (gain > best) {
        enters = j;
        if (pivots > 1000) break;  // by lowest number: it cannot go round in circles
        best = gain;
      }
    }
    if (enters == columns) {
      at_.assign(price.begin() + 1, price.end());
      lowest_ = price[0];
      for (const double y : at_) lowest_ += price_ * y;
      return true;
    }
    column_of(enters, column);
    std::size_t leaves = rows_;
    double least = 0.0;
    for (std::size_t r = 0; r < rows_; ++r) {
      step[r] = 0.0;
      for (std::size_t c = 0; c < rows_; ++c) step[r] += inverse_[r * rows_ + c] * column[c];
      if (step[r] <= 1e-11) continue;
      const double ratio = basic_[r] / step[r];
      if (leaves == rows_ || ratio < least || (ratio == least && basis_[r] < basis_[leaves]))
        leaves = r, least = ratio;
    }
    if (leaves == rows_) return false;
    for (std::size_t c = 0; c < rows_; ++c) inverse_[leaves * rows_ + c] /= step[leaves];
    basic_[leaves] = least;
    for (std::size_t r = 0; r < rows_; ++r) {
      if (r == leaves || step[r] == 0.0) continue;
      for (std::size_t c = 0; c < rows_; ++c)
        inverse_[r * rows_ + c] -= step[r] * inverse_[leaves * rows_ + c];
      basic_[r] = std::max(0.0, basic_[r] - step[r] * least);
    }
    basis_[leaves] = enters;
  }
  return false;
}

}  // namespace site
