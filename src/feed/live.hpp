// SPDX-License-Identifier: Apache-2.0
// Live messages from a broker in the house. It only listens: there is no call that publishes.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

namespace feed {

struct Broker {
  std::string host = "127.0.0.1";
  int port = 1883;
  std::string user = {},
              password = {};  ///< from a file outside the project; never written anywhere
  std::string ca_file = {};   ///< encrypted where given; the host's name is always checked
};

struct Message {
  std::string topic, payload;
  double received_s = 0.0;  ///< since 1970 UTC
};

/// Subscribes to topics (with wildcards) at every connect and gathers what comes in a bounded
/// queue. The connection is kept up by a thread of its own; a broker that is away is tried again.
class LiveSource {
 public:
  /// Throws InputError for a broker whose description cannot be used (no such CA file, bad host).
  LiveSource(const Broker& broker, std::vector<std::string> topics,
             std::size_t most_waiting = 10000);
  ~LiveSource();
  LiveSource(const LiveSource&) = delete;
  LiveSource& operator=(const LiveSource&) = delete;

  /// What came since the last call, oldest first.
  [[nodiscard]] std::vector<Message> take();
  struct Counts {
    std::size_t received = 0;
    std::size_t dropped = 0;   ///< the queue was full: the oldest went
    std::size_t retained = 0;  ///< old by definition, and not counted as readings
    std::size_t too_long = 0;
    std::size_t connects = 0;
  };
  [[nodiscard]] Counts counts() const;
  [[nodiscard]] bool connected() const;
  /// Why the last attempt to connect failed; empty where none did.
  [[nodiscard]] std::string trouble() const;

 private:
  struct Inside;
  std::unique_ptr<Inside> inside_;
};

}  // namespace feed
