// SPDX-License-Identifier: Apache-2.0
#include "watch/short_record.hpp"

#include <algorithm>
#include <cmath>

#include "base/statistics.hpp"

namespace watch {

ShortRecord::ShortRecord(int series) : flat_sum_(std::size_t(series), 0.0) {}

void ShortRecord::add(const Reading& r) {
  room_.clear();
  for (const float v : r.cells_V)
    if (std::isfinite(v)) room_.push_back(v);
  if (room_.size() < r.cells_V.size() || room_.size() < 3) return;
  const auto middle = room_.begin() + std::ptrdiff_t(room_.size() / 2);
  std::nth_element(room_.begin(), middle, room_.end());
  const double median = double(*middle);
  if (median < lowest_V_) {
    lowest_V_ = median;
    at_lowest_.assign(r.cells_V.begin(), r.cells_V.end());
  }
  if (known(r.current_A)) {
    sum_A_ += r.current_A;
    squares_A_ += r.current_A * r.current_A;
    n_A_ += 1.0;
    most_A_ = std::max(most_A_, std::abs(r.current_A));
  }
  if (median > 3.25 && median < 3.345) {
    for (std::size_t j = 0; j < r.cells_V.size(); ++j)
      flat_sum_[j] += double(r.cells_V[j]) - median;
    flat_ += 1.0;
  }
}

bool ShortRecord::one_current() const {
  if (n_A_ < 3.0) return true;
  const double mean = sum_A_ / n_A_;
  return std::sqrt(std::max(0.0, squares_A_ / n_A_ - mean * mean)) < 0.2 * most_A_;
}

std::vector<OddCell> ShortRecord::odd_cells() const {
  const std::size_t n = flat_sum_.size();
  std::vector<OddCell> odd(n);
  if (n < 3) return odd;
  if (saw_empty()) {
    const std::vector<double> volts(at_lowest_.begin(), at_lowest_.end());
    const double median = base::median(volts);
    // A resolution's worth of spread at least, so that equal readings accuse nobody.
    const double mad = std::max(0.005, base::median_absolute_deviation(volts));
    for (std::size_t j = 0; j < n; ++j) {
      const double z = 0.6745 * (volts[j] - median) / mad;
      if (z < -3.5) odd[j] = {Odd::low_at_empty, volts[j], median, z};
    }
  }
  if (flat_ >= 10.0) {
    std::vector<double> off(n);
    for (std::size_t j = 0; j < n; ++j) off[j] = flat_sum_[j] / flat_;
    const double median = base::median(off);
    const double mad = std::max(0.001, base::median_absolute_deviation(off));
    for (std::size_t j = 0; j < n; ++j) {
      const double d = off[j] - median, z = 0.6745 * d / mad;
      if (odd[j].what == Odd::none && std::abs(z) > 4.0 && std::abs(d) > 0.012)
        odd[j] = {Odd::off_on_flat, d, median, z};
    }
    // Neighbours that stand off the same way together run warmer or colder; nobody is accused.
    for (std::size_t j = 0; j < n; ++j) {
      if (odd[j].what != Odd::off_on_flat) continue;
      std::size_t end = j;
      while (end + 1 < n && odd[end + 1].what == Odd::off_on_flat &&
             (odd[end + 1].z > 0.0) == (odd[j].z > 0.0))
        ++end;
      if (end - j >= 2)
        for (std::size_t k = j; k <= end; ++k) odd[k] = OddCell{};
      j = end;
    }
  }
  return odd;
}

}  // namespace watch
