// SPDX-License-Identifier: Apache-2.0
// Who may be connected at a time. Whoever shows a token is counted apart from those who have shown
// none; where strangers are too many, the one that has kept us waiting longest goes, so that a
// newcomer who has a token is always heard. Touched by one thread.
#pragma once

#include <algorithm>
#include <cstddef>
#include <list>
#include <memory>

namespace server {

class Connection {
 public:
  virtual ~Connection() = default;
  virtual void drop() = 0;
};

/// One of these for this computer, one for the network.
class Quota {
 public:
  Quota(std::size_t most_known, std::size_t most_strangers)
      : most_known_(most_known), most_strangers_(most_strangers) {}

  /// A newcomer, not known yet. Drops the longest waiting stranger where there are too many.
  void come(const std::shared_ptr<Connection>& connection) {
    forget_the_gone(strangers_);
    while (strangers_.size() >= most_strangers_) {
      const auto oldest = strangers_.front().lock();
      strangers_.pop_front();
      if (oldest) oldest->drop();
    }
    strangers_.push_back(connection);
  }

  /// It has shown a token: no stranger any more. False where there is no room among the known.
  bool know(const std::shared_ptr<Connection>& connection) {
    if (is_in(known_, connection)) return true;
    forget_the_gone(known_);
    if (known_.size() >= most_known_) return false;
    strangers_.remove_if([&](const auto& c) { return c.lock() == connection; });
    known_.push_back(connection);
    return true;
  }

  [[nodiscard]] std::size_t strangers() const { return strangers_.size(); }
  [[nodiscard]] std::size_t known() const { return known_.size(); }

 private:
  using List = std::list<std::weak_ptr<Connection>>;
  static void forget_the_gone(List& list) {
    list.remove_if([](const auto& c) { return c.expired(); });
  }
  static bool is_in(const List& list, const std::shared_ptr<Connection>& connection) {
    return std::any_of(list.begin(), list.end(),
                       [&](const auto& c) { return c.lock() == connection; });
  }
  std::size_t most_known_, most_strangers_;
  List strangers_, known_;
};

}  // namespace server
