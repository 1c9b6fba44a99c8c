// SPDX-License-Identifier: Apache-2.0
// Several testers: one reference cell sent round them gives each its gain and offset.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/uncertainty.hpp"
#include "findings/finding.hpp"

namespace bench {

/// One capacity test of the reference cell on one tester (or one channel of it).
struct ReferenceRun {
  std::string channel;
  double charge_Ah = 0.0;  ///< as that channel counted it
  double hours = 0.0;      ///< that the discharge took
};

/// What is true of one channel, against the mean of all or against one that is trusted.
struct Channel {
  std::string name;
  Measure gain_percent;             ///< it counts so much too much
  std::optional<Measure> offset_A;  ///< known where its runs last differently long
  std::size_t runs = 0;
  double before_percent = 0.0;  ///< how far its mean lay from the reference cell's value
  double after_percent = 0.0;   ///< the same once corrected
};

struct Calibration {
  double reference_Ah = 0.0;  ///< of the cell, by all channels together
  std::vector<Channel> channels;
  double spread_before_percent = 0.0, spread_after_percent = 0.0;  ///< standard deviation of runs
  double repeatability_percent = 0.0;                              ///< of one run on one channel
  std::string trusted;  ///< the channel taken as right; empty: the mean of all

  /// A charge that `channel` counted over `hours`, corrected; unchanged for a channel not known.
  [[nodiscard]] double corrected_Ah(std::string_view channel, double charge_Ah, double hours) const;
  /// Standard uncertainty of that correction, as share of the charge.
  [[nodiscard]] double u_share(std::string_view channel) const;
};

/// Each run counts Q·(1 + gain) + offset·hours. Gains add up to nothing over the channels, unless
/// one is trusted; then its own are nothing. Offsets are found only where some channel has runs
/// whose lengths differ by a third. Least squares. Needs two channels or more. `u` of a channel
/// comes from how well runs repeat; a single run a channel takes 0.14 %. [Tao2024]
[[nodiscard]] std::optional<Calibration> calibrate(const std::vector<ReferenceRun>& runs,
                                                   const std::string& trusted = "");

/// What channels.csv says: `label,channel[,charge_Ah,hours]`. Rows labelled `reference` are runs of
/// the reference cell; all others say on which channel a cell was tested.
struct ChannelList {
  std::map<std::string, std::string> channel_of;  ///< by cell label
  std::vector<ReferenceRun> reference;
};
/// Throws InputError that names line and column.
[[nodiscard]] ChannelList read_channels(std::string_view text);

}  // namespace bench
