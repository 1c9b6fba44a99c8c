// SPDX-License-Identifier: Apache-2.0
#include "server/quota.hpp"

#include <vector>

#include <gtest/gtest.h>

namespace {

struct Guest : server::Connection {
  bool dropped = false;
  void drop() override { dropped = true; }
};

TEST(Quota, lets_strangers_take_only_each_others_place) {
  server::Quota quota(2, 3);
  const auto owner = std::make_shared<Guest>();
  quota.come(owner);
  EXPECT_TRUE(quota.know(owner));
  std::vector<std::shared_ptr<Guest>> strangers;
  for (int i = 0; i < 80; ++i) quota.come(strangers.emplace_back(std::make_shared<Guest>()));
  EXPECT_FALSE(owner->dropped);
  EXPECT_EQ(quota.strangers(), 3u);
  EXPECT_TRUE(strangers.front()->dropped) << "who has waited longest goes";
  EXPECT_FALSE(strangers.back()->dropped);
  const auto phone = std::make_shared<Guest>();
  quota.come(phone);
  EXPECT_TRUE(quota.know(phone)) << "a newcomer with a token is heard";
  EXPECT_TRUE(quota.know(phone)) << "and counted once";
  EXPECT_EQ(quota.known(), 2u);
}

TEST(Quota, bounds_the_known_too_and_forgets_who_left) {
  server::Quota quota(2, 3);
  auto a = std::make_shared<Guest>(), b = std::make_shared<Guest>(), c = std::make_shared<Guest>();
  for (const auto& guest : {a, b, c}) quota.come(guest);
  EXPECT_TRUE(quota.know(a));
  EXPECT_TRUE(quota.know(b));
  EXPECT_FALSE(quota.know(c));
  b.reset();
  EXPECT_TRUE(quota.know(c));
}

}  // namespace
