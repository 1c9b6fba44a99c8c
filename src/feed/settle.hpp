// SPDX-License-Identifier: Apache-2.0
// Rows of plain numbers to readings of packs: sign, spikes, impossible values, held means, gaps.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "feed/columns.hpp"
#include "feed/record_reader.hpp"

namespace feed {

/// Takes rows in order of time; waits with handing on until it knows the sign of the current and
/// the usual step.
class Settle {
 public:
  Settle(std::vector<Channel> channels, const RecordOptions& options,
         RecordReader::OnReading on_reading);

  /// One row, its values scaled, a channel each; NaN where nothing was read. `charge_Ah`: passed
  /// since the row before, where that is known better than by holding (signed as the record's own
  /// current). `segment`: nothing is counted from the row before to this one.
  void add(double time_s, const std::vector<double>& values, double charge_Ah, bool segment);
  /// A long table counts its means where its rows are.
  void count_means_elsewhere() { means_here_ = false; }
  void finish(RecordSummary& summary);
  [[nodiscard]] const std::vector<Channel>& channels() const { return channels_; }
  [[nodiscard]] std::vector<RecordSummary::Mean>& means() { return means_; }

 private:
  struct Row {
    double time_s = 0.0, charge_Ah = watch::not_known;
    bool segment = false;
    std::vector<float> values;
  };
  void decide();
  void decide_step();
  void decide_sign();
  void pass(Row row);
  void clean(Row& row);
  void unspike(const Row& before, Row& row, const Row& after);
  void hand_on(const Row& row);

  std::vector<Channel> channels_;
  std::vector<std::vector<std::size_t>> packs_;
  std::vector<std::size_t> cells_;
  std::vector<std::optional<std::size_t>> current_, temperature_;
  std::vector<std::vector<std::size_t>> cell_temperatures_;
  const RecordOptions options_;
  RecordReader::OnReading on_reading_;
  std::vector<Row> waiting_;
  bool decided_ = false, means_here_ = true;
  double sign_ = 1.0;
  std::string sign_told_;
  bool regular_ = false;
  double usual_step_s_ = 0.0;
  Row before_, pending_;
  int held_rows_ = 0;  ///< of before_ and pending_, how many are filled
  std::vector<RecordSummary::Mean> means_;
  std::map<std::string, std::size_t> left_out_;
  std::vector<RecordGap> gaps_;
  std::size_t rows_ = 0, judged_rows_ = 0, high_rows_ = 0;
  double from_s_ = watch::not_known, to_s_ = watch::not_known;
  std::vector<float> last_values_;
  std::vector<float> out_V_, out_C_;
};

}  // namespace feed
