// SPDX-License-Identifier: Apache-2.0
// The twin's inner loops: cells in blocks of eight, each quantity of a block side by side.
#pragma once

#include <cstddef>
#include <cstdint>
#include <new>
#include <vector>

namespace bank::kernel {

inline constexpr std::size_t width = 8;

/// Memory that starts where a block's vector may: a load of eight never crosses two cache lines.
template <class T>
struct Aligned {
  using value_type = T;
  Aligned() = default;
  template <class U>
  explicit Aligned(const Aligned<U>&) {}
  T* allocate(std::size_t n) {
    return static_cast<T*>(::operator new (n * sizeof(T), std::align_val_t{64}));
  }
  void deallocate(T* p, std::size_t) { ::operator delete (p, std::align_val_t{64}); }
  bool operator==(const Aligned&) const { return true; }
};
using Lanes = std::vector<double, Aligned<double>>;

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
  double heat[width];     ///< I·(U − V) over the step's middle, watts times steps, since `warm`

  double ohmic[width], lag1[width], lag2[width];  ///< R0 and R·(1 − e^(−Δt/τ)) for the next step
  double source[width];   ///< the cell at the end of the next step: a source behind a resistance
  double inverse[width];  ///< of that resistance; both where cells stand in parallel only

  double per_amp[width];                   ///< Δt / C: charge moved by one ampere in a step
  double r0[width], r1[width], r2[width];  ///< at this temperature; r1, r2 times (1 − e^(−Δt/τ))
  double keep1[width], keep2[width];       ///< e^(−Δt/τ)
  double hysteresis[width];                ///< half the gap between the branches
  double leak[width];
  std::int64_t curve[width];  ///< first interval of the cell's curve
};

/// A table by equal intervals: value at each interval's start, and the rise over it.
struct Table {
  const double* value = nullptr;
  const double* rise = nullptr;
};

/// Open-circuit curves, one behind the other. Intervals of 1/400 from −0.05 to 1.05, so that points
/// at multiples of 0.0025 are met exactly.
inline constexpr double first_charge = -0.05;
inline constexpr double intervals_per_charge = 400.0;
inline constexpr int intervals = 440;

/// Resistance against temperature: a quarter of a degree is straight to 1e-5.
inline constexpr double coldest_C = -40.0;
inline constexpr double warmths_per_K = 4.0;
inline constexpr int warmths = 480;
inline constexpr std::size_t most_packs = 64;

/// Resistances of a pack are looked up again when one of its cells has warmed or cooled by this:
/// 0.1 % of them.
inline constexpr double refresh_K = 0.03;

/// A bank as the loops see it. Blocks stand by pack, then member of a group, then groups in eights;
/// arrays by group in the same order with a member left out, by cell (`slot`) block by block.
struct Bank {
  Block* blocks;
  std::size_t packs, series, parallel;
  std::size_t blocks_of_member;
  Table curves;

  // By pack: the current of the step that is to be moved; what comes of it; the next step's source.
  const double* pack_A;
  double *cells_V, *lowest_V, *highest_V;  ///< sum of the groups; readings of the BMS
  double *source_V, *resistance_Ohm;       ///< of all groups in series, without bleeding
  double *coldest_C, *hottest_C;

  // By group.
  double *group_E, *group_R, *group_V;
  const double *bleed_A, *offset_V, *joint_Ohm;

  // By cell: where it stands in heat. Neighbours are read one beyond either end.
  double *temperature_C, *next_C, *refreshed_C;
  double *charge_then, *entropic_then;  ///< when `warm` was last called
  /// To neighbours, 1/sum with the room's, e^(−GΔt/C): of one pack, since all stand alike.
  const double *before_W_K, *behind_W_K, *by_W_K, *decay;
  const double *capacity_As, *r0, *r1, *r2;  ///< as in a block, but at 25 °C
  const double* entropic;                    ///< dU/dT by interval of the curve
  Table ohmic, fast, slow;                   ///< factors by temperature
};

/// Every cell of a pack as a source behind a resistance at the end of the next step, and the sums.
using Prepare = void (*)(const Bank& bank, std::size_t pack);
/// Moves every cell by one step at its pack's current and prepares the next; returns I·(U − V) at
/// the step's end, summed over cells: the heat that closes the balance of energy.
using Advance = double (*)(const Bank& bank);
/// Heat of `steps_s` (one step's length) times the steps since the last call, over `span_s`: each
/// cell towards the temperature at which its heat, its neighbours and the room would leave it,
/// exactly for neighbours that stand still meanwhile. Looks up resistances where it is time to and
/// prepares those packs again. `room_W` is the room's temperature times its conductance.
using Warm = void (*)(Bank& bank, double steps_s, double span_s, double room_W);
/// Resistances of every cell of a pack at its temperature now.
using Refresh = void (*)(const Bank& bank, std::size_t pack);

struct Functions {
  Prepare prepare;
  Advance advance;
  Warm warm;
  Refresh refresh;
  const char* name;
};
/// For any processor of the platform.
extern const Functions plain;
/// With 256-bit and with 512-bit vectors; the same answers bit for bit, since no sum is reordered
/// and nothing fused.
extern const Functions wide, widest;
/// The widest of them that this processor has.
[[nodiscard]] const Functions& best();

}  // namespace bank::kernel
