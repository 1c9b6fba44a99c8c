// SPDX-License-Identifier: Apache-2.0
// From a log's bytes to plain columns, block by block.
#pragma once

#include <memory>
#include <string_view>
#include <variant>

#include "logs/log.hpp"
#include "logs/read_options.hpp"

namespace logs {

/// A log, or a question where the file can be read in two ways that give different measures.
using ReadResult = std::variant<Log, Question>;

/// Reads one log. Feed its bytes in order, in blocks of any size, then call `finish` once. Memory
/// is bounded however long the log is: rows that say the same are joined (see Log). Throws
/// InputError that names line and column.
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

}  // namespace logs
