// SPDX-License-Identifier: Apache-2.0
#include "server/access.hpp"

#include <set>

#include <gtest/gtest.h>

#include "store/files.hpp"

namespace {

using server::Access;

/// Bytes that count up: enough to tell tokens apart, and the same in every run.
Access counting() {
  return Access(
      [n = 0u](std::size_t bytes) mutable {
        std::string text = store::sha256(std::to_string(n++));
        while (text.size() < bytes) text += text;
        return text.substr(0, bytes);
      },
      [](const std::string& text) { return store::sha256(text); });
}

TEST(Access, lets_a_link_in_once) {
  Access access = counting();
  const std::string key = access.link_key();
  EXPECT_GE(key.size() * 4, 128u) << "bits";
  EXPECT_FALSE(access.enter("", 0));
  EXPECT_FALSE(access.enter(key.substr(1), 0));
  const auto token = access.enter(key, 0);
  ASSERT_TRUE(token);
  EXPECT_FALSE(access.enter(key, 0)) << "burnt";
  EXPECT_FALSE(access.enter(*token, 0)) << "a token is no key";
  const auto device = access.who(*token, 1);
  ASSERT_TRUE(device);
  EXPECT_EQ(device->role, server::Role::owner);
  EXPECT_FALSE(access.who(key, 1));
  EXPECT_FALSE(access.who("", 1));
  EXPECT_FALSE(access.who(*token, Access::token_life_s + 1)) << "old";
}

TEST(Access, pairs_one_device_a_code) {
  Access access = counting();
  EXPECT_FALSE(access.pair("12345678", "phone", 0).token) << "no code is open";
  const auto code = access.open_pairing(0);
  ASSERT_TRUE(code);
  EXPECT_EQ(code->digits.size(), 8u);
  const auto paired = access.pair(code->digits, "phone", 119);
  ASSERT_TRUE(paired.token);
  EXPECT_EQ(access.who(*paired.token, 120)->role, server::Role::bench);
  EXPECT_FALSE(access.pair(code->digits, "another", 119).token) << "used";
  const auto late = access.open_pairing(200);
  EXPECT_FALSE(access.pair(late->digits, "phone", 321).token) << "two minutes are over";
}

TEST(Access, locks_after_five_wrong_codes) {
  Access access = counting();
  const auto code = access.open_pairing(0);
  ASSERT_TRUE(code);
  const std::string wrong = code->digits == "00000000" ? "00000001" : "00000000";
  for (int i = 0; i < 5; ++i) EXPECT_FALSE(access.pair(wrong, "x", 1).token);
  EXPECT_FALSE(access.pair(code->digits, "x", 2).token) << "the right one, too late";
  EXPECT_TRUE(access.locked(2));
  EXPECT_FALSE(access.open_pairing(2)) << "no new code while locked";
  EXPECT_TRUE(access.open_pairing(Access::lock_s + 2));
}

TEST(Access, shuts_out_whom_it_is_told_to) {
  Access access = counting();
  const auto token = access.enter(access.link_key(), 0);
  const auto code = access.open_pairing(0);
  const auto phone = access.pair(code->digits, "phone", 0).token;
  ASSERT_TRUE(token && phone);
  const std::string id = access.who(*phone, 0)->id;
  access.set_role(id, server::Role::owner);
  EXPECT_EQ(access.who(*phone, 0)->role, server::Role::owner);
  access.revoke(id);
  EXPECT_FALSE(access.who(*phone, 0));
  EXPECT_TRUE(access.who(*token, 0));
  EXPECT_EQ(access.devices().size(), 1u);
}

TEST(Access, shows_a_document_once_a_ticket) {
  Access access = counting();
  const std::string ticket = access.ticket("book.html", 0);
  EXPECT_FALSE(access.take_ticket("", 0));
  EXPECT_EQ(access.take_ticket(ticket, 100), "book.html");
  EXPECT_FALSE(access.take_ticket(ticket, 100));
  const std::string old = access.ticket("book.html", 0);
  EXPECT_FALSE(access.take_ticket(old, Access::ticket_life_s + 1));
}

TEST(Access, never_gives_two_the_same_token) {
  Access access = counting();
  std::set<std::string> tokens;
  for (int i = 0; i < 200; ++i) tokens.insert(*access.enter(access.link_key(), 0));
  EXPECT_EQ(tokens.size(), 200u);
}

}  // namespace
