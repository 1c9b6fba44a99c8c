// SPDX-License-Identifier: Apache-2.0
#include "watch/head.hpp"

#include <algorithm>
#include <cmath>

#include "base/check.hpp"

namespace watch {

std::vector<double> rising(std::span<const double> values) {
  struct Block {
    double mean;
    std::size_t size;
  };
  std::vector<Block> blocks;
  for (const double v : values) {
    blocks.push_back({v, 1});
    while (blocks.size() > 1 && blocks[blocks.size() - 2].mean > blocks.back().mean) {
      const Block top = blocks.back();
      blocks.pop_back();
      Block& b = blocks.back();
      b.mean = (b.mean * double(b.size) + top.mean * double(top.size)) / double(b.size + top.size);
      b.size += top.size;
    }
  }
  std::vector<double> result;
  result.reserve(values.size());
  for (const Block& b : blocks) result.insert(result.end(), b.size, b.mean);
  return result;
}

namespace {

constexpr double low_V = 3.372, full_V = 3.385, reference_V = 3.40;

/// The median's way up and its inverse.
class Way {
 public:
  Way(std::span<const double> Ah, std::span<const double> volts) : Ah_(Ah), V_(rising(volts)) {
    slope_.resize(V_.size());
    for (std::size_t i = 0; i < V_.size(); ++i) {
      const std::size_t a = i < 3 ? 0 : i - 3, b = std::min(i + 3, V_.size() - 1);
      const double span = Ah[b] - Ah[a];
      slope_[i] = span > 0.0 ? (V_[b] - V_[a]) / span * 1e3 : 0.0;
    }
  }
  [[nodiscard]] double top() const { return V_.back(); }
  struct Place {
    double Ah, slope_mV_Ah;
    std::size_t at;
  };
  [[nodiscard]] Place where(double volts) const {
    const auto up = std::lower_bound(V_.begin(), V_.end(), volts);
    const auto k =
        std::size_t(std::min<std::ptrdiff_t>(up - V_.begin(), std::ptrdiff_t(V_.size()) - 1));
    if (k == 0) return {Ah_[0], slope_[0], 0};
    const double rise = V_[k] - V_[k - 1];
    const double share = rise > 0.0 ? std::clamp((volts - V_[k - 1]) / rise, 0.0, 1.0) : 1.0;
    return {Ah_[k - 1] + share * (Ah_[k] - Ah_[k - 1]), slope_[k], k};
  }

 private:
  std::span<const double> Ah_;
  std::vector<double> V_, slope_;
};

/// Charge between two readings on the steep part, on average.
double steepest_step(std::span<const double> Ah, const Way& way) {
  const std::size_t from = way.where(low_V).at;
  return (Ah.back() - Ah[from]) / double(std::max<std::size_t>(1, Ah.size() - 1 - from));
}

}  // namespace

Head find_gaps(std::span<const double> Ah, std::span<const double> median_V,
               std::span<const float> cells_V, int cells) {
  CHECK(Ah.size() == median_V.size() && cells_V.size() == Ah.size() * std::size_t(cells));
  Head head;
  head.gaps.resize(std::size_t(cells));
  if (Ah.size() < 5) return head;
  const Way way(Ah, median_V);
  if (way.top() < full_V || Ah.back() - Ah.front() <= 0.0) return head;
  head.full = true;
  head.top_V = way.top();
  const auto full = way.where(std::min(reference_V, way.top()));
  head.full_Ah = full.Ah;
  head.at = full.at;
  const double apart_Ah = steepest_step(Ah, way);
  const double range_Ah = Ah.back() - way.where(low_V).Ah;
  for (int j = 0; j < cells; ++j) {
    double weight = 0.0, sum = 0.0, squares = 0.0, steep = 0.0;
    int used = 0;
    double last = not_known;
    for (std::size_t i = 0; i < Ah.size(); ++i) {
      const double v = cells_V[i * std::size_t(cells) + std::size_t(j)];
      if (!std::isfinite(v)) continue;
      last = v;
      if (v < low_V || v > way.top() - 5e-4) continue;
      const auto place = way.where(v);
      const double slope = std::clamp(place.slope_mV_Ah, 1.0, 60.0), w = slope * slope;
      const double g = Ah[i] - place.Ah;
      weight += w;
      sum += w * g;
      squares += w * g * g;
      steep += w / slope;
      ++used;
    }
    Gap& gap = head.gaps[std::size_t(j)];
    if (used >= 1) {
      gap.gap_Ah = sum / weight;
      const double spread = std::max(0.0, squares / weight - gap.gap_Ah * gap.gap_Ah);
      // Between two readings the way is a straight line, which it is not.
      gap.u_Ah = std::sqrt((spread + std::pow(0.1 * apart_Ah, 2)) / std::max(1.0, used / 5.0));
      gap.slope_mV_Ah = weight / steep;
    } else if (known(last) && last < low_V) {  // never came up: at least this far behind
      gap.gap_Ah = range_Ah * 1.3;
      gap.u_Ah = std::max(0.3, 0.5 * range_Ah);
      gap.slope_mV_Ah = 5.0;
      gap.at_least = true;
    }
  }
  return head;
}

}  // namespace watch
