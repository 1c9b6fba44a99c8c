// SPDX-License-Identifier: Apache-2.0
// Ageing under conditions that change: each law's losses go on from where they stand.
#pragma once

#include "life/ageing.hpp"

namespace life {

enum class Law { naumann, schimpe, wang };
[[nodiscard]] const char* name(Law law);

/// A stretch of time at constant conditions.
struct Use {
  base::Seconds time;
  base::Temperature temperature = base::Temperature::from_C(20.0);
  double mean_charge = 0.5;
  double full_cycles = 0.0;  ///< within that time, of the capacity when new
  double depth = 0.8, c_rate = 0.2;
};

/// What a law has counted so far. Losses that go with the root of time or throughput add as squares
/// (the same as going on at the virtual time that would have lost as much), those of a power p as
/// their 1/p-th powers, linear ones as they are. [Naumann2018] [Naumann2020] [Schimpe2018]
/// [Wang2011]; parts of a law age beside each other.
class Wear {
 public:
  explicit Wear(Law law) : law_(law) {}
  void add(const Use& use);
  /// Share of capacity lost, 0…1.
  [[nodiscard]] double loss() const;
  /// By storage alone, and by use. [Wang2011] does not tell them apart: all is use.
  [[nodiscard]] double calendar() const { return calendar_; }
  [[nodiscard]] double cycling() const { return loss() - calendar_; }

 private:
  Law law_;
  double calendar_ = 0.0, warm_ = 0.0, cold_ = 0.0, linear_ = 0.0;
};

}  // namespace life
