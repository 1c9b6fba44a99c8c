// SPDX-License-Identifier: Apache-2.0
// Bolted joints: what each should resist, a map of what each does, and how a bolt holds.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/quantity.hpp"
#include "findings/finding.hpp"
#include "layout/layout.hpp"

namespace wiring {

/// "A-minus", "A-01/02" … "A-15/16", "A-plus": a lug, the links between groups, the other lug. A
/// link is measured from terminal to terminal: its bar and both joints.
[[nodiscard]] std::vector<std::string> joint_names(const layout::Layout& layout);

/// Millivolts across a joint at a known current.
struct JointReading {
  std::string joint;
  double current_A = 0.0, mV = 0.0;
};
/// joints.csv: `joint,current_A,mV`. Throws InputError with line and column: a joint that the bank
/// does not have, one given twice, no current, a sign that differs from the current's.
[[nodiscard]] std::vector<JointReading> read_joints(std::string_view bytes,
                                                    const layout::Layout& layout);

struct Joint {
  std::string name;
  int pack = 0;
  double expected_uOhm = 0.0;
  std::optional<double> measured_uOhm;
  double drop_mV = 0.0, heat_W = 0.0;  ///< at the pack's design current, measured where it was
  bool stands_out = false;
};
struct JointMap {
  std::vector<Joint> joints;
  std::size_t measured = 0;
  std::vector<findings::Finding> findings;
};
/// A joint stands out where the modified z-score says so and it lies a quarter above the median of
/// its like, or half above that median ([NETA-ATS] has half above the lowest). `rows`: links where
/// the row turns are alike among themselves. Twenty millivolts at the design current is too much
/// for any joint.
[[nodiscard]] JointMap joint_map(const layout::Layout& layout, int rows,
                                 const std::vector<JointReading>& readings, base::Amps pack_design);

/// A bolt in a terminal's thread.
struct Bolt {
  double diameter_mm = 6.0;
  std::optional<double> length_mm, stack_mm, depth_mm, torque_Nm;
};
struct BoltResult {
  std::optional<double> engagement_mm;
  std::optional<double> force_low_kN, force_high_kN;  ///< of the torque, F = T/(K·d)
  std::vector<findings::Finding> findings;
};
/// K = 0.2 within three tenths [Shigley2011]; in aluminium one and a half diameters of thread
/// (common practice, no source); never to the ground of the hole.
[[nodiscard]] BoltResult check_bolt(const Bolt& bolt);
/// "M6" as 6; nothing where the word is unknown.
[[nodiscard]] std::optional<double> thread_named(std::string_view word);

}  // namespace wiring
