// SPDX-License-Identifier: Apache-2.0
// From a message's topic and payload to a quantity of a group: a plain table that the builder
// writes.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace feed {

/// One row of the table: topic,path,quantity,pack,number,scale.
struct MappedTopic {
  std::string topic;     ///< as written, with + and #
  std::string path;      ///< into a JSON payload, "cells.3.mV"; empty: the payload is the number
  std::string quantity;  ///< cell, current, temperature, voltage, soc
  int pack = 1, number = 0;
  double scale = 1.0;
};

struct MappedValue {
  std::size_t row = 0;  ///< of the table
  double value = 0.0;
};

class Mapping {
 public:
  /// Throws InputError (in `file`) with line and what was expected.
  Mapping(std::string_view csv, const std::string& file);
  [[nodiscard]] const std::vector<MappedTopic>& rows() const { return rows_; }
  /// Every value that the message carries for a row; none where its payload is no number there.
  [[nodiscard]] std::vector<MappedValue> values(std::string_view topic,
                                                std::string_view payload) const;

 private:
  std::vector<MappedTopic> rows_;
};

/// Does the topic match, '+' for one level, '#' for all below (MQTT 3.1.1, 4.7)?
[[nodiscard]] bool topic_matches(std::string_view pattern, std::string_view topic);

}  // namespace feed
