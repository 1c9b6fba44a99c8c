// SPDX-License-Identifier: Apache-2.0
#include "wiring/sharing.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>

#include "base/check.hpp"

namespace wiring {
namespace {

/// Solves A x = b by elimination with row exchange; A is small, square and regular here.
std::vector<double> solve(std::vector<std::vector<double>> a, std::vector<double> b) {
  const std::size_t n = b.size();
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t pivot = k;
    for (std::size_t i = k + 1; i < n; ++i)
      if (std::abs(a[i][k]) > std::abs(a[pivot][k])) pivot = i;
    CHECK(a[pivot][k] != 0.0);
    std::swap(a[k], a[pivot]);
    std::swap(b[k], b[pivot]);
    for (std::size_t i = k + 1; i < n; ++i) {
      const double factor = a[i][k] / a[k][k];
      if (factor == 0.0) continue;
      for (std::size_t j = k; j < n; ++j) a[i][j] -= factor * a[k][j];
      b[i] -= factor * b[k];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    for (std::size_t j = k + 1; j < n; ++j) b[k] -= a[k][j] * b[j];
    b[k] /= a[k][k];
  }
  return b;
}

}  // namespace

// Between neighbours k and k+1 the rails drop what the packs' own resistances differ by:
//   R_k i_k − R_{k+1} i_{k+1} = r · (current in the plus rail − current in the minus rail),
// where the plus rail carries S_{k+1} = Σ_{j>k} i_j towards pack 1, and the minus rail the same
// (same end) or −T_k = −Σ_{j≤k} i_j (diagonal). The last equation: the currents add up to the
// total.
std::vector<base::Amps> share_current(std::span<const base::Ohms> packs, base::Ohms link,
                                      layout::TakeOff take_off, base::Amps total) {
  const std::size_t n = packs.size();
  CHECK(n >= 1);
  for (const base::Ohms r : packs) CHECK(r.si() > 0.0);
  std::vector<std::vector<double>> a(n, std::vector<double>(n, 0.0));
  std::vector<double> b(n, 0.0);
  for (std::size_t k = 0; k + 1 < n; ++k) {
    double own_k = packs[k].si(), own_next = packs[k + 1].si();
    if (take_off == layout::TakeOff::star) {
      own_k += 2.0 * link.si();
      own_next += 2.0 * link.si();
    } else {
      for (std::size_t j = 0; j < n; ++j) {
        const bool beyond = j > k;
        if (beyond)
          a[k][j] -= (take_off == layout::TakeOff::same_end ? 2.0 : 1.0) * link.si();
        else if (take_off == layout::TakeOff::diagonal)
          a[k][j] += link.si();
      }
    }
    a[k][k] += own_k;
    a[k][k + 1] -= own_next;
  }
  for (std::size_t j = 0; j < n; ++j) a[n - 1][j] = 1.0;
  b[n - 1] = total.si();
  std::vector<base::Amps> currents;
  for (const double i : solve(std::move(a), std::move(b)))
    currents.push_back(base::Amps::from_si(i));
  return currents;
}

}  // namespace wiring
