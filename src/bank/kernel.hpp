// SPDX-License-Identifier: Apache-2.0
// The twin's inner loop: cells in blocks of eight, each quantity of a block side by side.
#pragma once

#include <cstddef>
#include <cstdint>

namespace bank::kernel {

inline constexpr std::size_t width = 8;

/// Eight cells. What varies, what is found within a step, what is fixed for a length of step and a
/// temperature. Discharge positive; volts, amperes, ohms, seconds. Unused lanes hold a resting
/// cell.
struct alignas(64) Block {
  double charge[width];  ///< state of charge, 0…1
  double v1[width];      ///< across the two RC pairs
  double v2[width];
  double branch[width];   ///< hysteresis, −1 (discharged) … +1 (charged)
  double ocv[width];      ///< at this charge, mean of both branches
  double slope[width];    ///< of it, volts per unit of charge
  double current[width];  ///< through the cell during the step
  double voltage[width];  ///< at the end of the step
  double heat[width];     ///< I·(U − V) added up since it was last taken away, watts times steps

  double source[width];                           ///< the cell at the end of the step: a source …
  double resistance[width];                       ///< … behind a resistance
  double inverse[width];                          ///< of it
  double ohmic[width], lag1[width], lag2[width];  ///< R0 and R·(1 − e^(−Δt/τ)) at this charge

  double per_amp[width];                   ///< Δt / C: charge moved by one ampere in a step
  double r0[width], r1[width], r2[width];  ///< at this temperature; r1, r2 times (1 − e^(−Δt/τ))
  double keep1[width], keep2[width];       ///< e^(−Δt/τ)
  double hysteresis[width];                ///< half the gap between the branches
  double leak[width];
  std::int32_t curve[width];  ///< first interval of the cell's curve
};

/// Open-circuit curves, one behind the other: value at each interval's start, and the rise over it.
/// Intervals of 1/400 from −0.05 to 1.05, so that points at multiples of 0.0025 are met exactly.
struct Curves {
  const double* value = nullptr;
  const double* rise = nullptr;
};
inline constexpr double first_charge = -0.05;
inline constexpr double intervals_per_charge = 400.0;
inline constexpr std::int32_t intervals = 440;

/// Each cell as a source behind a resistance at the end of the step.
using Sources = void (*)(Block* blocks, std::size_t count);
/// `inverse` of every cell, where cells stand in parallel.
using Inverses = void (*)(Block* blocks, std::size_t count);
/// Moves every cell by one step at its `current`.
using Advance = void (*)(Block* blocks, std::size_t count, Curves curves);

struct Functions {
  Sources sources;
  Inverses inverses;
  Advance advance;
  const char* name;
};
/// For any processor of the platform.
extern const Functions plain;
/// With 256-bit vectors; the same answers bit for bit, since no sum is reordered and nothing fused.
extern const Functions wide;
/// The wider of the two that this processor has.
[[nodiscard]] const Functions& best();

}  // namespace bank::kernel
