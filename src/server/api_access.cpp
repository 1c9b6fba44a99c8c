// SPDX-License-Identifier: Apache-2.0
// Who is in: links, codes, devices.
#include <fmt/format.h>

#include "base/input_error.hpp"
#include "book/labels.hpp"
#include "server/api.hpp"

namespace server {

using base::Json;

void Api::enter(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::lock_guard lock(access_mutex_);
  const auto token = access_.enter(text_in(body, "key"), ask.now_s);
  if (!token)
    return reply(
        json_answer({{"why", "This link was used before, or is of an earlier start."}}, 401));
  reply(json_answer({{"token", *token}}));
}

void Api::pair(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::lock_guard lock(access_mutex_);
  const Access::Paired paired =
      access_.pair(text_in(body, "code"), text_in(body, "name"), ask.now_s);
  if (!paired.token) return reply(json_answer({{"why", paired.why}}, 401));
  reply(json_answer({{"token", *paired.token}}));
}

void Api::pairing(const Ask&, const Reply& reply) {
  const std::string& address = circumstances_.lan_address;
  reply(json_answer(
      {{"address", address},
       {"encrypted", circumstances_.encrypted},
       {"fingerprint", circumstances_.fingerprint},
       {"picture",
        address.empty() ? Json(nullptr) : drawing::to_json(book::draw_code(address, 40.0))}}));
}

void Api::open_pairing(const Ask& ask, const Reply& reply) {
  if (circumstances_.lan_address.empty())
    throw base::InputError({"pairing", 0, 0}, "a server for this computer only",
                           "one that other devices reach", "start it with --lan");
  const std::lock_guard lock(access_mutex_);
  const auto code = access_.open_pairing(ask.now_s);
  if (!code) return reply(json_answer({{"why", "Too many wrong codes: wait five minutes."}}, 429));
  reply(json_answer({{"code", code->digits}, {"seconds", code->until_s - ask.now_s}}));
}

void Api::close_pairing(const Ask&, const Reply& reply) {
  const std::lock_guard lock(access_mutex_);
  access_.close_pairing();
  reply(json_answer({{"done", true}}));
}

void Api::revoke(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::lock_guard lock(access_mutex_);
  access_.revoke(text_in(body, "id"));
  reply(json_answer({{"done", true}}));
}

void Api::role(const Ask& ask, const Reply& reply) {
  const Json body = body_of(ask);
  const std::lock_guard lock(access_mutex_);
  access_.set_role(text_in(body, "id"),
                   text_in(body, "role") == "owner" ? Role::owner : Role::bench);
  reply(json_answer({{"done", true}}));
}

void Api::link(const Ask&, const Reply& reply) {
  const std::lock_guard lock(access_mutex_);
  reply(json_answer({{"key", access_.link_key()}}));
}

}  // namespace server
