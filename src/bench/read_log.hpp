// SPDX-License-Identifier: Apache-2.0
// From a log's bytes to plain columns, block by block.
#pragma once

#include <map>
#include <memory>
#include <string_view>
#include <variant>

#include "bench/clock.hpp"
#include "bench/columns.hpp"
#include "bench/log.hpp"

namespace bench {

enum class SignRule : std::uint8_t { automatic, discharge_positive, charge_positive };

struct ReadOptions {
  SignRule sign = SignRule::automatic;
  DateOrder dates = DateOrder::unknown;
  std::map<Meaning, NamedColumn> columns;
  /// Bad rows are left out and counted. Otherwise the first one is an InputError.
  bool leave_out_bad_rows = false;
};

/// A log, or a question where the file can be read in two ways that give different measures.
using ReadResult = std::variant<Log, Question>;

/// Reads one log. Feed its bytes in order, in blocks of any size, then call `finish` once. Memory
/// grows with the rows' numbers, never with the text. Throws InputError that names line and column.
class LogReader {
 public:
  explicit LogReader(ReadOptions options);
  ~LogReader();
  void feed(std::string_view block);
  [[nodiscard]] ReadResult finish();

 private:
  class Impl;
  std::unique_ptr<Impl> impl_;
};

/// The same for bytes that are all there.
[[nodiscard]] ReadResult read_log(std::string_view bytes, const ReadOptions& options = {});

}  // namespace bench
