// SPDX-License-Identifier: Apache-2.0
// Figure: a number that a person sees, able to say how sure it is and where it came from.
#pragma once

#include <optional>
#include <string>

#include "base/json.hpp"

namespace base {

struct Figure {
  double value = 0.0;
  std::optional<double> u =
      {};                 ///< standard uncertainty, in the same unit; none where none is known
  std::string unit = {};  ///< as written on paper: "Ah", "mΩ", "EUR/kWh"
  std::string reckoning =
      {};  ///< name in the register; empty where the figure was measured or given
  Json inputs = Json::object();  ///< what went into the reckoning, by its keys
  std::string basis = {};        ///< one sentence where there is no reckoning, or beside it
};

[[nodiscard]] Json to_json(const Figure& figure);

/// "228.4 ± 0.8 Ah": never more digits than the uncertainty carries; three significant ones without
/// it, and no zeros that say nothing.
[[nodiscard]] std::string show(const Figure& figure);
/// The number alone, rounded the same way.
[[nodiscard]] std::string show_value(const Figure& figure);
/// "± 0.8", or nothing.
[[nodiscard]] std::string show_uncertainty(const Figure& figure);

/// Fixed decimals with a real minus sign, the same in every locale. Not-a-number is shown as "–".
[[nodiscard]] std::string fixed(double value, int decimals);
/// At least `digits` significant digits, and never fewer than the integer part has.
[[nodiscard]] std::string significant(double value, int digits);
/// How many decimals a value with this standard uncertainty carries (its first digit; two where
/// that is 1 or 2).
[[nodiscard]] int decimals_for(double u);

}  // namespace base
