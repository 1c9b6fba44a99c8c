// SPDX-License-Identifier: Apache-2.0
// The loops themselves. Included by one file for each set of processor instructions and nowhere
// else; everything here has internal linkage, and nothing from outside is called, so that no
// function made for one processor is ever linked into a program for another.
#pragma once

#include "bank/kernel.hpp"
#include "cell/chemistry.hpp"

namespace bank::kernel {
namespace {

/// x where it is positive, else 0; exact, and without a branch that would keep the loop narrow.
inline double positive(double x) { return 0.5 * (x + __builtin_fabs(x)); }

void sources(Block* blocks, std::size_t count) {
  constexpr double below0 = cell::slow_bends[0].below, below1 = cell::slow_bends[1].below,
                   below2 = cell::slow_bends[2].below, below3 = cell::slow_bends[3].below;
  constexpr double slow0 = cell::slow_bends[0].slope, slow1 = cell::slow_bends[1].slope,
                   slow2 = cell::slow_bends[2].slope, slow3 = cell::slow_bends[3].slope;
  constexpr double low0 = cell::ohmic_bends[0].slope, low1 = cell::ohmic_bends[1].slope;
  for (std::size_t k = 0; k < count; ++k) {
    Block& b = blocks[k];
#pragma omp simd
    for (std::size_t l = 0; l < width; ++l) {
      const double s = b.charge[l];
      const double quarter = positive(below0 - s), next = positive(below1 - s);
      const double factor = 1.0 + slow0 * quarter + slow1 * next + slow2 * positive(below2 - s) +
                            slow3 * positive(below3 - s);
      const double ohmic = b.r0[l] * (1.0 + low0 * quarter + low1 * next);
      const double lag1 = b.r1[l] * factor, lag2 = b.r2[l] * factor;
      const double steep = b.slope[l] * b.per_amp[l];
      b.ohmic[l] = ohmic;
      b.lag1[l] = lag1;
      b.lag2[l] = lag2;
      b.resistance[l] = ohmic + lag1 + lag2 + steep;
      b.source[l] = b.ocv[l] + b.hysteresis[l] * b.branch[l] - b.v1[l] * b.keep1[l] -
                    b.v2[l] * b.keep2[l] - steep * b.leak[l];
    }
  }
}
static_assert(cell::ohmic_bends[0].below == cell::slow_bends[0].below &&
              cell::ohmic_bends[1].below == cell::slow_bends[1].below);

void inverses(Block* blocks, std::size_t count) {
  for (std::size_t k = 0; k < count; ++k) {
    Block& b = blocks[k];
#pragma omp simd
    for (std::size_t l = 0; l < width; ++l) b.inverse[l] = 1.0 / b.resistance[l];
  }
}

void advance(Block* blocks, std::size_t count, Curves curves) {
  const double* const value = curves.value;
  const double* const rise = curves.rise;
  for (std::size_t k = 0; k < count; ++k) {
    Block& b = blocks[k];
#pragma omp simd
    for (std::size_t l = 0; l < width; ++l) {
      const double I = b.current[l];
      const double moved = I * b.per_amp[l];
      const double v1 = b.v1[l] * b.keep1[l] + b.lag1[l] * I;
      const double v2 = b.v2[l] * b.keep2[l] + b.lag2[l] * I;
      // e^(−γ|moved|) as the eighth power of a short series: within 1e-4 up to γ|moved| = 1.
      const double x = (cell::hysteresis_per_charge / 8.0) * __builtin_fabs(moved);
      const double p = 1.0 - x + x * x * (0.5 - x * (1.0 / 6.0));
      const double p2 = p * p, p4 = p2 * p2, stay = p4 * p4;
      const double gone = 1.0 - stay;
      const double branch = b.branch[l] * stay + (I > 0.0 ? -gone : gone);
      const double charge = b.charge[l] - moved - b.leak[l] * b.per_amp[l];
      const double at = (charge - first_charge) * intervals_per_charge;
      std::int32_t i = static_cast<std::int32_t>(at);
      i = i < 0 ? 0 : i;
      i = i > intervals - 1 ? intervals - 1 : i;
      const std::int32_t of = b.curve[l] + i;
      const double step = rise[of];
      const double ocv = value[of] + step * (at - static_cast<double>(i));
      const double V = ocv + b.hysteresis[l] * branch - b.ohmic[l] * I - v1 - v2;
      b.heat[l] += I * (0.5 * (b.ocv[l] + ocv) - V);
      b.charge[l] = charge;
      b.v1[l] = v1;
      b.v2[l] = v2;
      b.branch[l] = branch;
      b.ocv[l] = ocv;
      b.slope[l] = step * intervals_per_charge;
      b.voltage[l] = V;
    }
  }
}

}  // namespace
}  // namespace bank::kernel
