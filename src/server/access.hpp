// SPDX-License-Identifier: Apache-2.0
// Who may come in: this computer by a link that works once, other devices by a code that is shown
// on its screen. Tokens are kept as hashes. The clock and the random bytes are passed in.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace server {

/// What a device may do.
enum class Role {
  owner,  ///< everything
  bench   ///< enter readings, logs, photos and signatures; see everything
};
[[nodiscard]] std::string_view name(Role role);

struct Device {
  std::string id, name;
  Role role = Role::owner;
  bool paired = false;  ///< came by a code, not by the link
  double since_s = 0.0;
};

class Access {
 public:
  /// `random(n)`: n bytes that nobody can guess. `hash(text)`: one way.
  Access(std::function<std::string(std::size_t)> random,
         std::function<std::string(const std::string&)> hash);

  static constexpr double code_life_s = 120.0, ticket_life_s = 120.0, lock_s = 300.0,
                          token_life_s = 30.0 * 86400.0;
  static constexpr int most_tries = 5;

  /// A key for a link; it lets one browser in, once.
  [[nodiscard]] std::string link_key();
  /// The token for the rest of this run; nothing for a key that is none or was used.
  [[nodiscard]] std::optional<std::string> enter(const std::string& key, double now_s);

  /// Eight digits, for two minutes and five tries; a new one takes the old one's place.
  struct Code {
    std::string digits;
    double until_s = 0.0;
  };
  [[nodiscard]] std::optional<Code> open_pairing(double now_s);  ///< nothing while locked
  void close_pairing() { code_.reset(); }
  [[nodiscard]] bool locked(double now_s) const { return now_s < locked_until_s_; }
  struct Paired {
    std::optional<std::string> token;
    std::string why;  ///< where there is none
  };
  [[nodiscard]] Paired pair(const std::string& digits, const std::string& device_name,
                            double now_s);

  [[nodiscard]] std::optional<Device> who(const std::string& token, double now_s) const;
  [[nodiscard]] std::vector<Device> devices() const;
  void set_role(const std::string& id, Role role);
  void revoke(const std::string& id);

  /// A ticket shows one document, once, without the token: for frames and downloads.
  [[nodiscard]] std::string ticket(const std::string& what, double now_s);
  [[nodiscard]] std::optional<std::string> take_ticket(const std::string& ticket, double now_s);

 private:
  std::string admit(const std::string& device_name, Role role, bool paired, double now_s);
  [[nodiscard]] std::string hex(std::size_t bytes);

  std::function<std::string(std::size_t)> random_;
  std::function<std::string(const std::string&)> hash_;
  std::map<std::string, Device> devices_;  ///< by the hash of the token
  std::vector<std::string> keys_;          ///< hashes of those that were not used
  std::optional<Code> code_;
  int tries_ = 0;
  double locked_until_s_ = 0.0;
  struct Ticket {
    std::string what;
    double until_s = 0.0;
  };
  std::map<std::string, Ticket> tickets_;
};

}  // namespace server
