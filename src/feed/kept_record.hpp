// SPDX-License-Identifier: Apache-2.0
// The kept record: a file beside the project's own that is only ever appended to. Days of readings
// as packed integers, the day's normal equations, and views by ten minutes that lose no extreme
// (docs/decisions/021-kept-record.md).
#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "watch/day.hpp"

namespace feed {

/// Readings of one pack over one day (or part of one), a row a moment, as whole steps of a
/// millivolt, a tenth of an ampere and a tenth of a degree. What was not read is `missing`.
struct DayRows {
  static constexpr std::int32_t missing = INT32_MIN;
  int pack = 0;
  long day = 0;                                    ///< since 1970
  std::vector<std::int32_t> time_ms;               ///< since the day's start, ascending
  std::vector<std::vector<std::int32_t>> columns;  ///< current, temperature, then each cell
  void add(const watch::Reading& reading);
};

/// Ten minutes of one pack: nothing that stood out in them is lost.
struct Bucket {
  std::int32_t start_s = 0;
  std::vector<std::int16_t> lowest_mV, highest_mV;  ///< of each cell
  float charge_Ah = 0.0F, mean_C = 0.0F;
  std::uint16_t readings = 0;
};
[[nodiscard]] std::vector<Bucket> downsample(const DayRows& rows);

/// Columns to bytes: differences in time or against the median column, whichever is smaller, low
/// and high bytes apart, zstd. Exact.
[[nodiscard]] std::string pack_rows(const DayRows& rows);
/// Throws InputError where the bytes are none that pack_rows made.
[[nodiscard]] DayRows unpack_rows(std::string_view bytes);
[[nodiscard]] std::string pack_day(const watch::Day& day, int pack);
struct KeptDay {
  int pack = 0;
  watch::Day day;
};
[[nodiscard]] KeptDay unpack_day(std::string_view bytes);

/// The file: a header, then blocks, each with its length, kind and checksum. Opening drops a last
/// block that was cut short while it was written; everything before it stays.
class KeptRecord {
 public:
  enum class Block : std::uint8_t { rows = 1, day = 2, view = 3, note = 4 };
  /// Opens or begins the file. Throws InputError for another kind of file or one that cannot be
  /// written.
  explicit KeptRecord(const std::filesystem::path& file);
  ~KeptRecord();
  KeptRecord(const KeptRecord&) = delete;
  KeptRecord& operator=(const KeptRecord&) = delete;

  /// On disk when it returns true; false where the disk is full, and then nothing has changed.
  [[nodiscard]] bool append(Block kind, std::string_view bytes);
  /// Bytes of a last block that had been cut short when the file was opened.
  [[nodiscard]] std::size_t dropped_bytes() const { return dropped_; }
  /// All blocks of a kind, in the order in which they were written.
  [[nodiscard]] std::vector<std::string> blocks(Block kind) const;
  [[nodiscard]] std::size_t bytes() const { return end_; }

 private:
  std::filesystem::path path_;
  int file_ = -1;
  std::size_t end_ = 0, dropped_ = 0;
};

}  // namespace feed
