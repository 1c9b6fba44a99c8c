// SPDX-License-Identifier: Apache-2.0
// `packhouse serve` as a test speaks to it: byte by byte, or as the page does.
#pragma once

#include <chrono>
#include <string>
#include <vector>

#include <arpa/inet.h>
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>

#include "tests/support/support.hpp"

extern char** environ;

namespace support {

using base::Json;

struct Reply {
  int status = 0;
  std::string head, body;
  [[nodiscard]] Json json() const { return Json::parse(body, nullptr, false); }
};

/// A project file that is there already.
struct There {
  std::filesystem::path file;
};

class Served {
 public:
  /// Serves an invented example.
  explicit Served(const std::string& example = "cabin", std::vector<std::string> more = {}) {
    EXPECT_EQ(packhouse(fmt::format("example {0} t && {1} import t {0}.packhouse", example,
                                    PACKHOUSE_COMMAND),
                        folder.path())
                  .code,
              0);
    file = folder / (example + ".packhouse");
    start(std::move(more));
  }
  explicit Served(There there) : file(std::move(there.file)) { start(); }
  ~Served() { stop(SIGTERM); }
  Served(const Served&) = delete;
  Served& operator=(const Served&) = delete;

  void start(std::vector<std::string> more = {}) {
    int out[2] = {};
    ASSERT_EQ(::pipe(out), 0);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, out[1], 1);
    posix_spawn_file_actions_addclose(&actions, out[0]);
    std::vector<std::string> words = {PACKHOUSE_COMMAND, "serve", file.string(), "--no-open"};
    words.insert(words.end(), more.begin(), more.end());
    std::vector<char*> argv;
    for (std::string& w : words) argv.push_back(w.data());
    argv.push_back(nullptr);
    ASSERT_EQ(::posix_spawn(&pid_, PACKHOUSE_COMMAND, &actions, nullptr, argv.data(), environ), 0);
    posix_spawn_file_actions_destroy(&actions);
    ::close(out[1]);
    char c = 0;
    first_line.clear();
    while (::read(out[0], &c, 1) == 1 && c != '\n') first_line += c;
    out_ = out[0];
    const std::size_t colon = first_line.rfind(':');
    ASSERT_NE(colon, std::string::npos) << first_line;
    port = static_cast<unsigned short>(std::stoi(first_line.substr(colon + 1)));
    host = fmt::format("127.0.0.1:{}", port);
    if (first_line.starts_with("https")) return;  // the test speaks for itself
    const Json answer =
        post("/api/enter", {{"key", first_line.substr(first_line.find("key=") + 4)}}).json();
    token = answer.value("token", "");
  }
  void stop(int signal) {
    if (pid_ <= 0) return;
    ::kill(pid_, signal);
    int status = 0;
    ::waitpid(pid_, &status, 0);
    ended = status;
    pid_ = -1;
    ::close(out_);
  }

  /// Sends these very bytes, and reads until the other side ends or says all it has to say.
  [[nodiscard]] std::string raw(const std::string& bytes, double seconds = 5.0,
                                bool may_be_gone = false) const {
    const int s = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const bool there = ::connect(s, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0;
    EXPECT_TRUE(there || may_be_gone);
    if (!there) {
      ::close(s);
      return "";
    }
    std::size_t sent = 0;
    while (sent < bytes.size()) {
      const ssize_t n = ::send(s, bytes.data() + sent, bytes.size() - sent, MSG_NOSIGNAL);
      if (n <= 0) break;
      sent += static_cast<std::size_t>(n);
    }
    std::string answer;
    const auto until = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
    while (std::chrono::steady_clock::now() < until) {
      pollfd p{s, POLLIN, 0};
      if (::poll(&p, 1, 100) <= 0) continue;
      char block[65536];
      const ssize_t n = ::recv(s, block, sizeof block, 0);
      if (n <= 0) break;
      answer.append(block, static_cast<std::size_t>(n));
      const std::size_t end = answer.find("\r\n\r\n");
      const std::size_t length = answer.find("Content-Length: ");
      if (end != std::string::npos && length < end &&
          answer.size() >= end + 4 + std::stoul(answer.substr(length + 16)))
        break;
    }
    ::close(s);
    return answer;
  }
  [[nodiscard]] Reply ask(const std::string& bytes, double seconds = 5.0,
                          bool may_be_gone = false) const {
    const std::string answer = raw(bytes, seconds, may_be_gone);
    Reply reply;
    const std::size_t end = answer.find("\r\n\r\n");
    if (answer.size() > 12) reply.status = std::stoi(answer.substr(9, 3));
    reply.head = answer.substr(0, end);
    if (end != std::string::npos) reply.body = answer.substr(end + 4);
    return reply;
  }
  [[nodiscard]] std::string ours() const {
    return fmt::format("Host: {0}\r\nX-Packhouse: 1\r\nX-Packhouse-Token: {1}\r\n", host, token);
  }
  [[nodiscard]] Reply get(const std::string& path) const {
    return ask(fmt::format("GET {} HTTP/1.1\r\n{}\r\n", path, ours()));
  }
  [[nodiscard]] std::string as_post(const std::string& path, const Json& body,
                                    const std::string& more = "") const {
    const std::string text = body.dump();
    return fmt::format(
        "POST {} HTTP/1.1\r\n{}{}Origin: http://{}\r\nContent-Type: application/json\r\n"
        "Content-Length: {}\r\n\r\n{}",
        path, ours(), more, host, text.size(), text);
  }
  [[nodiscard]] Reply post(const std::string& path, const Json& body,
                           const std::string& more = "") const {
    return ask(as_post(path, body, more));
  }
  /// The same where the server may be ended meanwhile: then the status is 0.
  [[nodiscard]] Reply try_post(const std::string& path, const Json& body) const {
    return ask(as_post(path, body), 20.0, true);
  }
  [[nodiscard]] std::string project() const { return get("/api/project").body; }
  [[nodiscard]] long resident_kB() const {
    const std::string status = read(fmt::format("/proc/{}/status", pid_));
    return std::stol(status.substr(status.find("VmRSS:") + 6));
  }

  Folder folder;
  std::filesystem::path file;
  std::string first_line, host, token;
  unsigned short port = 0;
  int ended = -1;

 private:
  pid_t pid_ = -1;
  int out_ = -1;
};

}  // namespace support
