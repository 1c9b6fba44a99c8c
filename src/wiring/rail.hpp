// SPDX-License-Identifier: Apache-2.0
// A bus with packs along it, seen from its take-off as one source behind one resistance.
#pragma once

#include <cstddef>

#include "layout/layout.hpp"

namespace wiring {

/// One pack at its place on the bus: a source behind a resistance, or open (conductance 0).
struct RailPack {
  double source_V = 0.0;
  double conductance_S = 0.0;
  double current_A = 0.0;               ///< filled in by `share`, discharge positive
  double ua = 0.0, ub = 1.0, uc = 0.0;  ///< filled in by `seen`: U_k = a + b·U + c·I
};

/// What the take-off sees: V = source − resistance · I. `live`: at least one pack is closed.
struct RailSource {
  double source_V = 0.0, resistance_Ohm = 0.0;
  bool live = false;
};

/// Kirchhoff's laws along the two rails, from the first pack to the last, each quantity kept as
/// a + b·U + c·I with U the voltage at the first pack and I the total; that no current passes the
/// last pack gives U. With S_k the current that the plus rail still carries behind pack k, the
/// voltage between the rails changes by r·(2 S_k − d·I) from k to k+1: d = 0 where both leads leave
/// at the first pack, 1 where the minus leaves at the last. No iteration, no matrix, no allocation.
class Rail {
 public:
  /// `link_Ohm`: each rail between neighbours; of a star it is in the packs' own conductance.
  Rail(layout::TakeOff take_off, double link_Ohm)
      : link_(take_off == layout::TakeOff::star ? 0.0 : link_Ohm),
        far_(take_off == layout::TakeOff::diagonal ? 1.0 : 0.0) {}

  [[nodiscard]] RailSource seen(RailPack* packs, std::size_t n) {
    // U_k and S_k as a + b·U + c·I; T is the sum of what the minus rail carries to each link.
    double ua = 0.0, ub = 1.0, uc = 0.0, sa = 0.0, sb = 0.0, sc = 1.0;
    double ta = 0.0, tb = 0.0, tc = 0.0;
    for (std::size_t k = 0; k < n; ++k) {
      const double g = packs[k].conductance_S;
      packs[k].ua = ua, packs[k].ub = ub, packs[k].uc = uc;
      sa -= g * (packs[k].source_V - ua);
      sb += g * ub;
      sc += g * uc;
      if (k + 1 == n) break;
      ta -= sa, tb -= sb, tc += 1.0 - sc;
      ua += link_ * 2.0 * sa, ub += link_ * 2.0 * sb, uc += link_ * (2.0 * sc - far_);
    }
    if (!(sb > 0.0)) return {};
    const double by_sb = 1.0 / sb;
    first_a_ = -sa * by_sb;
    first_c_ = -sc * by_sb;
    const double drop = far_ * link_;
    return {first_a_ - drop * (ta + tb * first_a_), -(first_c_ - drop * (tc + tb * first_c_)),
            true};
  }

  /// Each pack's current for a total, after `seen` of the same packs.
  void share(RailPack* packs, std::size_t n, double total_A) const {
    const double first = first_a_ + first_c_ * total_A;
    for (std::size_t k = 0; k < n; ++k)
      packs[k].current_A =
          packs[k].conductance_S *
          (packs[k].source_V - (packs[k].ua + packs[k].ub * first + packs[k].uc * total_A));
  }

 private:
  double link_, far_;
  double first_a_ = 0.0, first_c_ = 0.0;
};

}  // namespace wiring
