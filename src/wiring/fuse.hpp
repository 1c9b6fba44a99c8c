// SPDX-License-Identifier: Apache-2.0
// How fast a fuse opens: the gates of general-purpose fuses, from both ends.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "base/quantity.hpp"

namespace wiring {

/// What is known of a fuse's curve. `unknown`: the maker's curve must be held against by hand.
enum class FuseCurve { gg, unknown };
[[nodiscard]] FuseCurve fuse_curve_named(std::string_view word);

/// Gates of one gG rating: any fuse of it carries `carries_10s` for ten seconds, has opened within
/// five seconds at `opens_5s`, carries `carries_01s` for a tenth of a second, and has melted within
/// that at `opens_01s`. [IEC60269-1] table of gates, from memory; checked by its own rule that one
/// gate is the next rating's, 1.6 times larger (tests/outside).
struct FuseGate {
  double rated_A, carries_10s_A, opens_5s_A, carries_01s_A, opens_01s_A;
};
[[nodiscard]] std::span<const FuseGate> fuse_gates();
/// Nothing where the rating is none of the series 16 … 1000 A.
[[nodiscard]] std::optional<FuseGate> fuse_gate(base::Amps rated);

/// When a gG fuse opens at a current: never before `earliest`, and by `latest` at the most
/// (nothing: it may carry it for ever). Straight lines between the gates in logarithms; beyond the
/// last one at constant I²t; below the 10 s gate at the fusing current, 1.6 times the rating within
/// hours. Valid for direct current where the loop's time constant is a few milliseconds, as a
/// battery's loop of a few microhenries is.
struct OpeningTime {
  double earliest_s = 0.0;
  std::optional<double> latest_s;
};
[[nodiscard]] std::optional<OpeningTime> opening_time(base::Amps rated, base::Amps current);

/// I²t that a gG fuse may let through while it melts at this current, at the most, A²s; nothing
/// where it may never open.
[[nodiscard]] std::optional<double> let_through_A2s(base::Amps rated, base::Amps current);

/// True where a gG fuse of the smaller rating opens before the larger one does: at least two steps
/// of the series apart, 1.6 to 1. [IEC60269-1] from memory
[[nodiscard]] bool selective(base::Amps smaller, base::Amps larger);

}  // namespace wiring
