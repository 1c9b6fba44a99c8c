// SPDX-License-Identifier: Apache-2.0
#include "feed/live.hpp"

#include <algorithm>
#include <chrono>
#include <condition_variable>
#include <deque>
#include <mutex>
#include <thread>

#include <mosquitto.h>

#include "base/input_error.hpp"

namespace feed {
namespace {

constexpr int longest_payload = 1 << 20, once_at_least = 1, keep_alive_s = 30;

/// The library's own start and end, once for the program.
struct Library {
  Library() { mosquitto_lib_init(); }
  ~Library() { mosquitto_lib_cleanup(); }
};

}  // namespace

struct LiveSource::Inside {
  std::vector<std::string> topics;
  std::size_t most = 0;
  mosquitto* client = nullptr;
  mutable std::mutex lock;
  std::deque<Message> waiting;
  Counts counts;
  bool connected = false;
  std::string trouble;
  bool ends = false;
  std::condition_variable wake;
  std::thread listener;

  /// Until the end: hears, and where the broker is away tries again after 1, 2, 4 … 30 seconds.
  /// The library's own thread gives up where the very first connection is refused.
  void listen() {
    constexpr int look_up_ms = 200;
    std::chrono::seconds pause(1);
    for (;;) {
      const int code = mosquitto_loop(client, look_up_ms, 1);
      std::unique_lock guard(lock);
      if (ends) return;
      if (code == MOSQ_ERR_SUCCESS) {
        if (connected) pause = std::chrono::seconds(1);
        continue;
      }
      if (wake.wait_for(guard, pause, [&] { return ends; })) return;
      pause = std::min(pause * 2, std::chrono::seconds(30));
      guard.unlock();
      const int again = mosquitto_reconnect(client);
      guard.lock();
      if (again != MOSQ_ERR_SUCCESS) trouble = mosquitto_strerror(again);
    }
  }

  static void on_connect(mosquitto* client, void* self, int code) {
    auto& in = *static_cast<Inside*>(self);
    if (code == 0)  // at every connect: a session does not outlive the broker
      for (const std::string& t : in.topics)
        mosquitto_subscribe(client, nullptr, t.c_str(), once_at_least);
    const std::lock_guard guard(in.lock);
    in.connected = code == 0;
    if (code == 0) {
      ++in.counts.connects;
      in.trouble.clear();
    } else {
      in.trouble = mosquitto_connack_string(code);
    }
  }
  static void on_disconnect(mosquitto*, void* self, int code) {
    auto& in = *static_cast<Inside*>(self);
    const std::lock_guard guard(in.lock);
    in.connected = false;
    if (code != 0 && in.trouble.empty()) in.trouble = mosquitto_strerror(code);
  }
  static void on_message(mosquitto*, void* self, const mosquitto_message* m) {
    auto& in = *static_cast<Inside*>(self);
    // In the library's thread: copy and leave.
    const std::lock_guard guard(in.lock);
    if (m->retain) return void(++in.counts.retained);
    if (m->payloadlen <= 0) return;  // clears a retained message; no reading
    if (m->payloadlen > longest_payload) return void(++in.counts.too_long);
    Message message{
        m->topic, std::string(static_cast<const char*>(m->payload), std::size_t(m->payloadlen)),
        std::chrono::duration<double>(std::chrono::system_clock::now().time_since_epoch()).count()};
    ++in.counts.received;
    if (in.waiting.size() >= in.most) {
      in.waiting.pop_front();
      ++in.counts.dropped;
    }
    in.waiting.push_back(std::move(message));
  }
};

LiveSource::LiveSource(const Broker& broker, std::vector<std::string> topics,
                       std::size_t most_waiting)
    : inside_(std::make_unique<Inside>()) {
  static const Library library;
  Inside& in = *inside_;
  in.topics = std::move(topics);
  in.most = most_waiting;
  for (const std::string& t : in.topics)
    if (mosquitto_sub_topic_check(t.c_str()) != MOSQ_ERR_SUCCESS)
      throw base::InputError({}, "the topic '" + t + "'",
                             "a topic, '+' for one level and '#' for all below",
                             "copy it as the device writes it");
  in.client = mosquitto_new(nullptr, true, &in);
  if (in.client == nullptr) throw std::bad_alloc();
  mosquitto_connect_callback_set(in.client, Inside::on_connect);
  mosquitto_disconnect_callback_set(in.client, Inside::on_disconnect);
  mosquitto_message_callback_set(in.client, Inside::on_message);
  int code = MOSQ_ERR_SUCCESS;
  if (!broker.user.empty())
    code = mosquitto_username_pw_set(in.client, broker.user.c_str(), broker.password.c_str());
  if (code == MOSQ_ERR_SUCCESS && !broker.ca_file.empty())
    code = mosquitto_tls_set(in.client, broker.ca_file.c_str(), nullptr, nullptr, nullptr, nullptr);
  if (code == MOSQ_ERR_SUCCESS)
    code = mosquitto_connect(in.client, broker.host.c_str(), broker.port, keep_alive_s);
  if (code == MOSQ_ERR_ERRNO ||
      code == MOSQ_ERR_EAI) {  // away, not wrong: the thread goes on trying
    in.trouble = mosquitto_strerror(code);
    code = MOSQ_ERR_SUCCESS;
  }
  if (code != MOSQ_ERR_SUCCESS) {
    mosquitto_destroy(in.client);
    throw base::InputError(
        {}, "a broker that cannot be used: " + std::string(mosquitto_strerror(code)),
        "host, port and, for encryption, a CA file", "check the broker's description");
  }
  in.listener = std::thread([&in] { in.listen(); });
}

LiveSource::~LiveSource() {
  {
    const std::lock_guard guard(inside_->lock);
    inside_->ends = true;
  }
  inside_->wake.notify_all();
  mosquitto_disconnect(inside_->client);
  inside_->listener.join();
  mosquitto_destroy(inside_->client);
}

std::vector<Message> LiveSource::take() {
  const std::lock_guard guard(inside_->lock);
  std::vector<Message> all(std::make_move_iterator(inside_->waiting.begin()),
                           std::make_move_iterator(inside_->waiting.end()));
  inside_->waiting.clear();
  return all;
}

LiveSource::Counts LiveSource::counts() const {
  const std::lock_guard guard(inside_->lock);
  return inside_->counts;
}
bool LiveSource::connected() const {
  const std::lock_guard guard(inside_->lock);
  return inside_->connected;
}
std::string LiveSource::trouble() const {
  const std::lock_guard guard(inside_->lock);
  return inside_->trouble;
}

}  // namespace feed
