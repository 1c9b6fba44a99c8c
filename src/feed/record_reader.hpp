// SPDX-License-Identifier: Apache-2.0
// A running bank's record from bytes to readings: wide tables (a row a moment), long tables (a row
// a change), dirty, with clocks that step. What is left out is counted; nothing is averaged by
// rows.
#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "base/encoding.hpp"
#include "feed/columns.hpp"
#include "findings/finding.hpp"
#include "logs/read_options.hpp"
#include "watch/record.hpp"

namespace feed {

struct RecordOptions {
  logs::SignRule sign = logs::SignRule::automatic;
  logs::DateOrder dates = logs::DateOrder::unknown;
  Told told;
  double capacity_Ah = 230.0;  ///< for what a current may be
};

/// A stretch without readings.
struct RecordGap {
  double from_s, to_s;
  std::size_t missing;  ///< readings that should stand there, where the source writes regularly
};

/// What a record held, beside its readings.
struct RecordSummary {
  std::string file;
  std::size_t rows = 0;                         ///< used
  std::map<std::string, std::size_t> left_out;  ///< why, and how many
  std::vector<RecordGap> gaps;
  double from_s = watch::not_known, to_s = watch::not_known;
  bool dated = false;  ///< times are of the calendar, not since the record's start
  bool regular = false;
  double usual_step_s = 0.0;
  struct Mean {
    std::string quantity;
    double sum = 0.0, seconds = 0.0;
  };
  std::vector<Mean> means;  ///< held over time
  std::vector<int> cells;   ///< cells of each pack
  std::vector<std::vector<std::string>> cell_headers;
  bool lfp = true;
  bool has_current = false;
  std::vector<findings::Finding> findings;
};

/// Feed the blocks of one file in order, then `finish`. `on_reading(pack, reading)` gets every
/// reading, in order of time. Throws InputError where the bytes are no record.
class RecordReader {
 public:
  using OnReading = std::function<void(int, const watch::Reading&)>;
  RecordReader(std::string file, RecordOptions options, OnReading on_reading);
  ~RecordReader();
  RecordReader(const RecordReader&) = delete;
  RecordReader& operator=(const RecordReader&) = delete;

  void feed(std::string_view block);
  RecordSummary finish();

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace feed
