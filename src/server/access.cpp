// SPDX-License-Identifier: Apache-2.0
#include "server/access.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace server {

std::string_view name(Role role) { return role == Role::owner ? "owner" : "bench"; }

Access::Access(std::function<std::string(std::size_t)> random,
               std::function<std::string(const std::string&)> hash)
    : random_(std::move(random)), hash_(std::move(hash)) {}

std::string Access::hex(std::size_t bytes) {
  std::string text;
  for (const char c : random_(bytes)) text += fmt::format("{:02x}", static_cast<unsigned char>(c));
  return text;
}

std::string Access::admit(const std::string& device_name, Role role, bool paired, double now_s) {
  std::string token = hex(24);
  devices_[hash_(token)] = {hex(6), device_name.substr(0, 80), role, paired, now_s};
  return token;
}

std::string Access::link_key() {
  std::string key = hex(24);
  keys_.push_back(hash_(key));
  if (keys_.size() > 16) keys_.erase(keys_.begin());
  return key;
}

std::optional<std::string> Access::enter(const std::string& key, double now_s) {
  const auto found = std::find(keys_.begin(), keys_.end(), hash_(key));
  if (found == keys_.end()) return std::nullopt;
  keys_.erase(found);
  return admit("a browser on this computer", Role::owner, false, now_s);
}

std::optional<Access::Code> Access::open_pairing(double now_s) {
  if (locked(now_s)) return std::nullopt;
  // Eight digits from 64 random bits: no digit likelier than another by more than 10^-11.
  std::uint64_t bits = 0;
  for (const char c : random_(8)) bits = bits << 8 | static_cast<unsigned char>(c);
  code_ = Code{fmt::format("{:08}", bits % 100000000ULL), now_s + code_life_s};
  tries_ = 0;
  return code_;
}

Access::Paired Access::pair(const std::string& digits, const std::string& device_name,
                            double now_s) {
  if (locked(now_s)) return {std::nullopt, "too many wrong codes: wait five minutes"};
  if (!code_ || now_s > code_->until_s) {
    code_.reset();
    return {std::nullopt, "no code is open: ask for one on the computer"};
  }
  // Hashes are compared, so that how long it takes tells nothing of the code.
  if (hash_(digits) != hash_(code_->digits)) {
    if (++tries_ < most_tries) return {std::nullopt, "that is not the code"};
    code_.reset();
    locked_until_s_ = now_s + lock_s;
    return {std::nullopt, "too many wrong codes: wait five minutes"};
  }
  code_.reset();
  return {admit(device_name.empty() ? "a device" : device_name, Role::bench, true, now_s), ""};
}

std::optional<Device> Access::who(const std::string& token, double now_s) const {
  const auto found = devices_.find(hash_(token));
  if (found == devices_.end() || now_s > found->second.since_s + token_life_s) return std::nullopt;
  return found->second;
}

std::vector<Device> Access::devices() const {
  std::vector<Device> all;
  for (const auto& [hash, device] : devices_) all.push_back(device);
  std::sort(all.begin(), all.end(),
            [](const Device& a, const Device& b) { return a.since_s < b.since_s; });
  return all;
}

void Access::set_role(const std::string& id, Role role) {
  for (auto& [hash, device] : devices_)
    if (device.id == id && device.paired) device.role = role;
}

void Access::revoke(const std::string& id) {
  std::erase_if(devices_, [&](const auto& entry) { return entry.second.id == id; });
}

std::string Access::ticket(const std::string& what, double now_s) {
  std::erase_if(tickets_, [&](const auto& t) { return now_s > t.second.until_s; });
  std::string text = hex(24);
  tickets_[hash_(text)] = {what, now_s + ticket_life_s};
  return text;
}

std::optional<std::string> Access::take_ticket(const std::string& ticket, double now_s) {
  const auto found = tickets_.find(hash_(ticket));
  if (found == tickets_.end()) return std::nullopt;
  const Ticket t = found->second;
  tickets_.erase(found);
  if (now_s > t.until_s) return std::nullopt;
  return t.what;
}

}  // namespace server
