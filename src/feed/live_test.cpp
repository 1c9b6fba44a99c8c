// SPDX-License-Identifier: Apache-2.0
// Against a real broker on the loopback, cut and started again. Skips where none is installed.
#include "feed/live.hpp"

#include <chrono>
#include <csignal>
#include <thread>

#include <gtest/gtest.h>
#include <mosquitto.h>

#include "base/input_error.hpp"
#include "feed/mapping.hpp"
#include "tests/support/support.hpp"

namespace {

constexpr const char* program = "/usr/sbin/mosquitto";

/// A broker of our own on a port of its own.
class TestBroker {
 public:
  explicit TestBroker(int port) : port_(port) {
    support::write(folder_ / "conf", "listener " + std::to_string(port) +
                                         " 127.0.0.1\nallow_anonymous true\npersistence false\n");
    start();
  }
  ~TestBroker() { stop(); }
  void start() {
    pid_ = ::fork();
    if (pid_ == 0) {
      if (std::freopen("/dev/null", "w", stderr) == nullptr) ::_exit(1);
      ::execl(program, program, "-c", (folder_ / "conf").c_str(), nullptr);
      ::_exit(1);
    }
  }
  void stop() {
    if (pid_ <= 0) return;
    ::kill(pid_, SIGTERM);
    int status = 0;
    ::waitpid(pid_, &status, 0);
    pid_ = -1;
  }
  [[nodiscard]] int port() const { return port_; }

 private:
  support::Folder folder_;
  int port_;
  pid_t pid_ = -1;
};

template <class Done>
bool within(double seconds, Done done) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
  while (!done()) {
    if (std::chrono::steady_clock::now() > end) return false;
    std::this_thread::yield();
    ::usleep(2000);
  }
  return true;
}

/// Publishes from the test's own hand.
class Device {
 public:
  explicit Device(int port) : client_(mosquitto_new(nullptr, true, nullptr)) {
    (void)within(10.0, [&] {
      return mosquitto_connect(client_, "127.0.0.1", port, 30) == MOSQ_ERR_SUCCESS;
    });
    mosquitto_loop_start(client_);
  }
  ~Device() {
    mosquitto_disconnect(client_);
    mosquitto_loop_stop(client_, true);
    mosquitto_destroy(client_);
  }
  void say(const std::string& topic, const std::string& payload, bool retain = false) {
    mosquitto_publish(client_, nullptr, topic.c_str(), int(payload.size()), payload.data(), 1,
                      retain);
  }

 private:
  mosquitto* client_;
};

TEST(LiveSource, hears_what_is_said_again_after_the_broker_came_back) {
  if (::access(program, X_OK) != 0) GTEST_SKIP() << "no broker installed";
  TestBroker broker(21000 + int(::getpid() % 9000));
  feed::LiveSource live({.host = "127.0.0.1", .port = broker.port()}, {"bank/#"});
  std::vector<feed::Message> heard;
  const auto gathered = [&](std::size_t n) {
    return within(30.0, [&] {
      for (feed::Message& m : live.take()) heard.push_back(std::move(m));
      return heard.size() >= n;
    });
  };
  ASSERT_TRUE(within(30.0, [&] { return live.connected(); })) << live.trouble();
  {
    Device device(broker.port());
    device.say("other/1", "9");
    for (int i = 0; i < 200; ++i)
      device.say("bank/cell/" + std::to_string(i % 16), std::to_string(3300 + i));
    ASSERT_TRUE(gathered(200));
  }
  EXPECT_EQ(heard[5].topic, "bank/cell/5");
  EXPECT_EQ(heard[5].payload, "3305");
  broker.stop();
  ASSERT_TRUE(within(30.0, [&] { return !live.connected(); }));
  broker.start();
  ASSERT_TRUE(within(60.0, [&] { return live.connected(); })) << live.trouble();
  Device device(broker.port());
  device.say("bank/cell/1", "3400");
  ASSERT_TRUE(gathered(201));
  EXPECT_EQ(live.counts().received, 201u);
  EXPECT_EQ(live.counts().connects, 2u);
}

TEST(LiveSource, does_not_take_a_retained_message_for_a_reading_and_drops_the_oldest_of_a_flood) {
  if (::access(program, X_OK) != 0) GTEST_SKIP() << "no broker installed";
  TestBroker broker(30000 + int(::getpid() % 9000));
  Device device(broker.port());
  device.say("bank/old", "1", true);
  // Whoever subscribes before the broker holds it hears it as new: somebody else looks first.
  ASSERT_TRUE(within(30.0, [&] {
    const feed::LiveSource first({.host = "127.0.0.1", .port = broker.port()}, {"bank/#"});
    return within(2.0, [&] { return first.counts().retained == 1; });
  }));
  feed::LiveSource live({.host = "127.0.0.1", .port = broker.port()}, {"bank/#"}, 100);
  ASSERT_TRUE(within(30.0, [&] { return live.counts().retained == 1; }));
  const std::size_t before = live.counts().received;
  for (int i = 0; i < 1000; ++i) device.say("bank/flood", std::to_string(i));
  ASSERT_TRUE(within(30.0, [&] { return live.counts().received >= before + 1000; }));
  const auto kept = live.take();
  ASSERT_EQ(kept.size(), 100u);
  EXPECT_EQ(kept.back().payload, "999");
  EXPECT_EQ(live.counts().dropped, live.counts().received - 100u);
}

TEST(LiveSource, goes_on_trying_where_no_broker_is_and_refuses_what_is_none) {
  feed::LiveSource live({.host = "127.0.0.1", .port = 9}, {"bank/#"});
  EXPECT_FALSE(live.connected());
  EXPECT_THROW(feed::LiveSource({.host = "127.0.0.1"}, {"bank/#/more"}), base::InputError);
  EXPECT_THROW(feed::LiveSource({.host = "127.0.0.1", .ca_file = "/no/such/ca.pem"}, {"a"}),
               base::InputError);
}

TEST(TopicMatches, as_the_standard_says) {  // MQTT 3.1.1, 4.7.1
  EXPECT_TRUE(feed::topic_matches("sport/tennis/player1/#", "sport/tennis/player1"));
  EXPECT_TRUE(
      feed::topic_matches("sport/tennis/player1/#", "sport/tennis/player1/score/wimbledon"));
  EXPECT_TRUE(feed::topic_matches("sport/tennis/+", "sport/tennis/player2"));
  EXPECT_FALSE(feed::topic_matches("sport/tennis/+", "sport/tennis/player1/ranking"));
  EXPECT_FALSE(feed::topic_matches("sport/+", "sport"));
  EXPECT_TRUE(feed::topic_matches("+/+", "/finance"));
  EXPECT_FALSE(feed::topic_matches("#", "$SYS/uptime"));
}

TEST(Mapping, finds_values_in_plain_and_in_json_payloads) {
  const feed::Mapping mapping(
      "topic,path,quantity,pack,number,scale\nbank/+/state,cells.2.mV,cell,1,3,0.001\nbank/current,,current,1,,-1\n",
      "map.csv");
  const auto cell =
      mapping.values("bank/a/state", R"({"cells":[{"mV":3300},{"mV":3301},{"mV":3302}]})");
  ASSERT_EQ(cell.size(), 1u);
  EXPECT_NEAR(cell[0].value, 3.302, 1e-12);
  const auto current = mapping.values("bank/current", " 12.5 ");
  ASSERT_EQ(current.size(), 1u);
  EXPECT_EQ(current[0].value, -12.5);
  EXPECT_TRUE(mapping.values("bank/a/state", "not json").empty());
  EXPECT_TRUE(mapping.values("bank/a/state", R"({"cells":[]})").empty());
  EXPECT_TRUE(mapping.values("bank/current", "unavailable").empty());
  EXPECT_THROW(feed::Mapping("topic,quantity\na,current\nb,current\n", "map.csv"),
               base::InputError);
}

}  // namespace
