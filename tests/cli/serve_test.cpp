// SPDX-License-Identifier: Apache-2.0
// `packhouse serve` from outside, byte by byte: what must be refused is refused, with an empty body
// and nothing changed, and the page still answers afterwards.
#include <thread>

#include <openssl/bio.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rsa.h>
#include <openssl/ssl.h>

#include "server/api.hpp"
#include "store/files.hpp"
#include "tests/support/served.hpp"

namespace {

using base::Json;
using support::Reply;
using support::Served;

TEST(Serve, prints_a_link_whose_key_stands_in_the_fragment) {
  Served s;
  EXPECT_TRUE(s.first_line.starts_with("http://127.0.0.1:")) << s.first_line;
  EXPECT_NE(s.first_line.find("/#key="), std::string::npos);
  EXPECT_GE(s.token.size() * 4, 128u);
  const Reply page = s.ask(fmt::format("GET / HTTP/1.1\r\nHost: {}\r\n\r\n", s.host));
  EXPECT_EQ(page.status, 200);
  EXPECT_NE(page.body.find("<title>Packhouse</title>"), std::string::npos);
  EXPECT_EQ(
      s.post("/api/enter", {{"key", s.first_line.substr(s.first_line.find("key=") + 4)}}).status,
      401)
      << "the link works once";
}

TEST(Serve, carries_what_protects_the_page_on_every_answer) {
  Served s;
  for (const std::string& request :
       {fmt::format("GET / HTTP/1.1\r\nHost: {}\r\n\r\n", s.host),
        fmt::format("GET /nothing HTTP/1.1\r\nHost: {}\r\n\r\n", s.host),
        fmt::format("GET /api/state HTTP/1.1\r\n{}\r\n", s.ours()),
        std::string("GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n")}) {
    const Reply r = s.ask(request);
    for (const char* needed :
         {"X-Content-Type-Options: nosniff", "Cross-Origin-Resource-Policy: same-origin",
          "Cross-Origin-Opener-Policy: same-origin", "Referrer-Policy: no-referrer",
          "frame-ancestors 'none'", "default-src 'none'", "script-src 'self'", "base-uri 'none'",
          "require-trusted-types-for 'script'"})
      EXPECT_NE(r.head.find(needed), std::string::npos) << needed << "\n" << r.head;
    EXPECT_EQ(r.head.find("Access-Control"), std::string::npos);
    EXPECT_EQ(r.head.find("Set-Cookie"), std::string::npos);
    EXPECT_EQ(r.head.find("unsafe-eval"), std::string::npos);
    EXPECT_EQ(r.head.find("script-src 'self' 'unsafe-inline'"), std::string::npos);
  }
}

TEST(Serve, refuses_what_does_not_come_from_its_page) {
  Served s;
  const std::string before = s.project();
  const std::string body = R"({"changes":[{"what":"setting","name":"bus.power_W","after":1}]})";
  const auto with = [&](const std::string& head) {
    return s.ask(fmt::format("POST /api/changes HTTP/1.1\r\n{}Content-Length: {}\r\n\r\n{}", head,
                             body.size(), body));
  };
  const std::string host = fmt::format("Host: {}\r\n", s.host), own = "X-Packhouse: 1\r\n",
                    token = fmt::format("X-Packhouse-Token: {}\r\n", s.token),
                    origin = fmt::format("Origin: http://{}\r\n", s.host),
                    json = "Content-Type: application/json\r\n";
  const std::vector<std::pair<std::string, int>> table = {
      {"Host: evil.example\r\n" + own + token + origin + json, 421},
      {own + token + origin + json, 400},  // HTTP/1.1 without any Host: 400 or 421
      {host + host + own + token + origin + json, 421},
      {fmt::format("Host: {}.\r\n", s.host) + own + token + origin + json, 421},
      {fmt::format("Host: x@{}\r\n", s.host) + own + token + origin + json, 421},
      {host + own + token + "Origin: http://evil.example\r\n" + json, 403},
      {host + own + token + "Origin: null\r\n" + json, 403},
      {host + own + token + json, 403},
      {host + token + origin + json, 403},
      {host + own + token + origin + "Content-Type: text/plain\r\n", 415},
      {host + own + token + origin + "Content-Type: application/x-www-form-urlencoded\r\n", 415},
      {host + own + token + origin + json + "Sec-Fetch-Site: cross-site\r\n", 403},
      {host + own + origin + json, 401},
      {host + own + "X-Packhouse-Token: 00\r\n" + origin + json, 401},
      {host + own + token + token + origin + json, 401},
      {host + own + "Cookie: packhouse-token=" + s.token + "\r\n" + origin + json, 401}};
  for (const auto& [head, status] : table) {
    const Reply r = with(head);
    if (status == 400)
      EXPECT_TRUE(r.status == 400 || r.status == 421) << r.status << "\n" << head;
    else
      EXPECT_EQ(r.status, status) << head;
    EXPECT_TRUE(r.body.empty()) << r.body;
  }
  EXPECT_EQ(s.ask(fmt::format("GET http://{0}/ HTTP/1.1\r\nHost: {0}\r\n\r\n", s.host)).status,
            400);
  EXPECT_EQ(
      s
          .ask(fmt::format(
              "OPTIONS /api/changes HTTP/1.1\r\nHost: {}\r\nOrigin: http://evil.example\r\nAccess-Control-Request-Method: POST\r\n\r\n",
              s.host))
          .status,
      405);
  EXPECT_EQ(s.get("/api/changes").status, 405) << "GET changes nothing";
  EXPECT_EQ(s.get("/api/undo").status, 405);
  EXPECT_EQ(s.project(), before);
}

TEST(Serve, gives_no_data_without_a_token) {
  Served s;
  for (const server::Api::Route& r : server::Api::routes()) {
    const std::string text = "{}";
    const std::string request = fmt::format(
        "{} {} HTTP/1.1\r\nHost: {}\r\nX-Packhouse: 1\r\nOrigin: http://{}\r\nContent-Type: "
        "application/json\r\nContent-Length: 2\r\n\r\n{}",
        r.method, r.path, s.host, s.host, text);
    const int status = s.ask(request).status;
    EXPECT_EQ(status, 401) << r.path;
  }
  EXPECT_EQ(
      s.ask(fmt::format("GET /api/events HTTP/1.1\r\nHost: {}\r\nX-Packhouse: 1\r\n\r\n", s.host))
          .status,
      401);
}

TEST(Serve, finds_no_file_by_any_path) {
  Served s;
  for (const char* path : {"/../../../../etc/passwd",
                           "/..%2f..%2fetc/passwd",
                           "/%2e%2e/%2e%2e/etc/passwd",
                           "/%252e%252e/etc/passwd",
                           "/..\\..\\etc\\passwd",
                           "/etc/passwd",
                           "/cabin.packhouse",
                           "/assets/../../cabin.packhouse",
                           "/CON",
                           "/C:/x",
                           "/x::$DATA",
                           "/%00",
                           "/%c0%ae%c0%ae/",
                           "/t/../x",
                           "/t/",
                           "/t/0/book.html",
                           "/api/",
                           "/api",
                           "/api/../index.html",
                           "/index.html/"}) {
    const Reply r = s.ask(fmt::format("GET {} HTTP/1.1\r\n{}\r\n", path, s.ours()));
    EXPECT_TRUE(r.status == 404 || r.status == 400) << path << " " << r.status;
    EXPECT_TRUE(r.body.empty()) << path;
  }
}

TEST(Serve, bounds_what_it_reads) {
  Served s;
  const long before_kB = s.resident_kB();
  const std::string head = fmt::format(
      "POST /api/changes HTTP/1.1\r\n{}Origin: http://{}\r\nContent-Type: application/json\r\n",
      s.ours(), s.host);
  EXPECT_EQ(s.ask(head + "Content-Length: 999999999999\r\n\r\n").status, 413);
  EXPECT_EQ(s.ask(head + fmt::format("Content-Length: {}\r\n\r\n", (64u << 20) + 1)).status, 413);
  EXPECT_EQ(s.ask(head + "Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n").status,
            400);
  EXPECT_EQ(s.ask(head + "Content-Length: 2\r\nContent-Length: 3\r\n\r\n{}").status, 400);
  EXPECT_EQ(s.ask(head + "Content-Length: -1\r\n\r\n").status, 400);
  EXPECT_EQ(s.ask(head + "Transfer-Encoding: chunked\r\n\r\nffffffffffffffff1\r\n").status, 0)
      << "a chunk of a size that is none ends the connection";
  // A line, and headers, without end.
  EXPECT_EQ(s.ask("GET / HTTP/1.1\r\nX: " + std::string(40000, 'a')).status, 431);
  std::string many = "GET / HTTP/1.1\r\n" + s.ours();
  for (int i = 0; i < 4000; ++i) many += fmt::format("X-{}: 1\r\n", i);
  EXPECT_EQ(s.ask(many + "\r\n").status, 431);
  EXPECT_EQ(
      s.ask(fmt::format("GET /{} HTTP/1.1\r\n{}\r\n", std::string(30000, 'a'), s.ours())).status,
      414);
  EXPECT_EQ(s.ask("\x16\x03\x01\x02\x01\x01\r\n\r\n").status, 400);
  // Many ranges are not answered one by one.
  std::string ranges = "bytes=0-";
  for (int i = 0; i < 900; ++i) ranges += ",0-";
  const Reply ranged =
      s.ask(fmt::format("GET / HTTP/1.1\r\nHost: {}\r\nRange: {}\r\n\r\n", s.host, ranges));
  EXPECT_EQ(ranged.status, 200);
  EXPECT_LT(ranged.body.size(), 10000u);
  // JSON that is deep, long or none.
  std::string deep(100000, '[');
  EXPECT_EQ(s.ask(head + fmt::format("Content-Length: {}\r\n\r\n{}", deep.size(), deep)).status,
            422);
  for (const char* text :
       {"", "x", "[]", "{\"changes\":}", "{\"changes\":[{}]}", "{\"changes\":[1,2]}",
        "{\"changes\":{}}", "{\"changes\":[{\"what\":\"setting\"}]}",
        "{\"changes\":[{\"what\":\"setting\",\"name\":\"bus.power_W\",\"after\":1e400}]}"})
    EXPECT_EQ(s.ask(head + fmt::format("Content-Length: {}\r\n\r\n{}",
                                       std::string_view(text).size(), text))
                  .status,
              422)
        << text;
  EXPECT_EQ(s.get("/api/state").status, 200) << "and goes on";
  EXPECT_LT(s.resident_kB() - before_kB, 100000) << "memory stays flat";
}

TEST(Serve, answers_while_others_hold_connections_open) {
  Served s;
  std::vector<int> held;
  for (int i = 0; i < 40; ++i) {
    const int c = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(s.port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (::connect(c, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0)
      (void)::send(c, "GET / HT", 8, MSG_NOSIGNAL);
    held.push_back(c);
  }
  EXPECT_EQ(s.get("/api/state").status, 200);
  for (const int c : held) ::close(c);
  // More than it takes at once: the rest are closed, not queued for ever, and it recovers.
  held.clear();
  for (int i = 0; i < 300; ++i) {
    const int c = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(s.port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    (void)::connect(c, reinterpret_cast<sockaddr*>(&to), sizeof to);
    held.push_back(c);
  }
  for (const int c : held) ::close(c);
  std::this_thread::sleep_for(std::chrono::milliseconds(300));
  EXPECT_EQ(s.get("/api/state").status, 200);
}

TEST(Serve, keeps_the_owners_place_from_strangers_on_the_network) {
  Served s("cabin", {"--lan-address", "127.0.0.2"});
  std::vector<int> held;
  for (int i = 0; i < 80; ++i) {  // half a request each, at the network's address
    const int c = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    sockaddr_in to{};
    to.sin_family = AF_INET;
    to.sin_port = htons(s.port);
    to.sin_addr.s_addr = htonl(INADDR_LOOPBACK + 1);
    if (::connect(c, reinterpret_cast<sockaddr*>(&to), sizeof to) == 0)
      (void)::send(c, "GET / HT", 8, MSG_NOSIGNAL);
    held.push_back(c);
    if (i % 20 == 0) {
      EXPECT_EQ(s.get("/api/state").status, 200) << i;
    }
  }
  EXPECT_EQ(s.get("/api/state").status, 200);
  for (const int c : held) ::close(c);
}

TEST(Serve, takes_one_framing_one_key_once_and_no_endless_json) {
  Served s;
  const std::string head = fmt::format(
      "POST /api/changes HTTP/1.1\r\n{}Origin: http://{}\r\nContent-Type: application/json\r\n",
      s.ours(), s.host);
  for (const char* framing : {"gzip", "identity", "chunked, chunked", "gzip, chunked", "x"})
    EXPECT_EQ(s.ask(head + "Transfer-Encoding: " + framing + "\r\n\r\n0\r\n\r\n").status, 400)
        << framing;
  EXPECT_EQ(s.ask(head + fmt::format("Content-Length: {}\r\n\r\n", 60u << 20)).status, 413)
      << "before any of it is sent";
  const std::string before = s.project();
  const std::string twice =
      R"({"changes":[{"what":"setting","name":"bus.power_W","after":1,"after":2}]})";
  const Reply reply =
      s.ask(head + fmt::format("Content-Length: {}\r\n\r\n{}", twice.size(), twice));
  EXPECT_EQ(reply.status, 422);
  EXPECT_NE(reply.body.find("twice"), std::string::npos) << reply.body;
  EXPECT_EQ(s.project(), before);
}

TEST(Serve, stores_a_photo_once_however_often_it_is_sent_again) {
  using namespace std::string_literals;
  Served s;
  const std::string label = s.get("/api/project").json()["cells"][0]["label"];
  const std::string whole =
      "\xFF\xD8\xFF\xC0\0\x0B\x08\0\1\0\1\1\1\x11\0\xFF\xDA\0\x08\1\1\0\0\x3F\0zz\xFF\xD9"s;
  const auto send = [&](const std::string& bytes, const std::string& key) {
    return s
        .ask(fmt::format("POST /api/photos/keep?cell={}&key={} HTTP/1.1\r\n{}Origin: "
                         "http://{}\r\nContent-Type: application/octet-stream\r\nContent-Length: "
                         "{}\r\n\r\n",
                         label, key, s.ours(), s.host, bytes.size()) +
             bytes)
        .status;
  };
  EXPECT_EQ(send(whole, "k1"), 200);
  s.stop(SIGKILL);
  s.start();
  EXPECT_EQ(send(whole, "k1"), 200);
  EXPECT_EQ(s.get("/api/project").json()["photos"].size(), 1u);
  EXPECT_EQ(send(whole + "more", "k1"), 409) << "the same key with something else";
  EXPECT_EQ(send("\xFF\xD8\xFF\xE0", "k2"), 422) << "four bytes are no picture";
  EXPECT_EQ(send(whole.substr(0, whole.size() - 2), "k3"), 422) << "cut short";
  EXPECT_EQ(s.get("/api/project").json()["photos"].size(), 1u);
}

TEST(Serve, gives_a_copy_of_the_whole_project_wherever_its_file_went) {
  Served s;
  for (int moved = 0; moved < 2; ++moved) {
    const Reply ticket = s.post("/api/ticket", {{"document", "project.packhouse"}});
    ASSERT_EQ(ticket.status, 200) << ticket.body;
    const Reply copy = s.ask(fmt::format("GET {} HTTP/1.1\r\nHost: {}\r\n\r\n",
                                         ticket.json()["address"].get<std::string>(), s.host));
    ASSERT_EQ(copy.status, 200) << copy.body;
    const auto file = s.folder / fmt::format("copy{}.packhouse", moved);
    support::write(file, copy.body);
    EXPECT_LE(
        support::packhouse(fmt::format("check copy{}.packhouse", moved), s.folder.path()).code, 1);
    std::error_code none;
    std::filesystem::rename(s.file, s.folder / "elsewhere", none);
  }
}

TEST(Serve, keeps_what_it_acknowledged_through_a_kill) {
  Served s;
  for (int round = 0; round < 4; ++round) {
    int acknowledged = 0;
    for (int i = 1; i <= 8; ++i) {
      const int power = 1000 + 100 * round + i;
      const Reply r =
          s.post("/api/changes",
                 {{"changes", {{{"what", "setting"}, {"name", "bus.power_W"}, {"after", power}}}}});
      if (r.status == 200) acknowledged = power;
    }
    s.stop(SIGKILL);
    s.start();
    const Json project = s.get("/api/project").json();
    EXPECT_EQ(project["given"]["bus.power_W"], acknowledged) << round;
  }
}

TEST(Serve, ends_well_when_it_is_told_to) {
  Served s;
  (void)s.get("/api/plan");
  s.stop(SIGTERM);
  EXPECT_TRUE(WIFEXITED(s.ended)) << s.ended;
  EXPECT_EQ(WEXITSTATUS(s.ended), 0);
  EXPECT_FALSE(std::filesystem::exists(s.file.string() + ".in-use"));
}

TEST(Serve, tells_a_second_one_who_has_the_file) {
  Served s;
  const support::Ran second =
      support::packhouse("serve cabin.packhouse --no-open", s.folder.path());
  EXPECT_EQ(second.code, 2);
  EXPECT_NE(second.err.find("in use by packhouse serve at http://127.0.0.1:"), std::string::npos)
      << second.err;
  EXPECT_EQ(support::packhouse("plan cabin.packhouse --json", s.folder.path()).code,
            support::packhouse("plan cabin.packhouse --json", s.folder.path()).code)
      << "reading goes on";
}

TEST(Serve, describes_every_route) {
  const std::string doc =
      support::read(std::filesystem::path(SOURCE_ROOT) / "docs" / "api" / "openapi.yaml");
  for (const server::Api::Route& r : server::Api::routes()) {
    const std::size_t at = doc.find(fmt::format("\n  {}:\n", r.path));
    ASSERT_NE(at, std::string::npos) << r.path;
    const std::size_t end = doc.find("\n  /", at + 3);
    const std::string part = doc.substr(at, end - at);
    EXPECT_NE(part.find(r.method == "GET" ? "\n    get:" : "\n    post:"), std::string::npos)
        << r.path;
  }
}

TEST(Serve, pairs_a_device_in_the_house_and_lets_it_enter_readings_only) {
  Served s("cabin", {"--lan-address", "127.0.0.2"});
  // The computer opens a code; the device at the other address types it.
  const Json code = s.post("/api/pairing/open", Json::object()).json();
  ASSERT_TRUE(code.contains("code")) << code.dump();
  // The house's address answers to its own name only: asked through this one it is no host.
  EXPECT_EQ(s.ask(fmt::format("GET / HTTP/1.1\r\nHost: 127.0.0.2:{}\r\n\r\n", s.port)).status, 421);
  const Reply paired = s.post("/api/pair", {{"code", code["code"]}, {"name", "<b>phone"}});
  ASSERT_EQ(paired.status, 200);
  const std::string owner = s.token;
  s.token = paired.json()["token"];
  EXPECT_EQ(s.get("/api/state").json()["role"], "bench");
  const Json project = s.get("/api/project").json();
  const std::string label = project["cells"][0]["label"];
  EXPECT_EQ(
      s.post("/api/changes",
             {{"changes",
               {{{"what", "cell"}, {"name", label}, {"field", "voltage_V"}, {"after", 3.29}}}}})
          .status,
      200);
  EXPECT_EQ(s.post("/api/changes",
                   {{"changes", {{{"what", "setting"}, {"name", "bus.power_W"}, {"after", 1}}}}})
                .status,
            422);
  EXPECT_EQ(s.post("/api/changes",
                   {{"changes", {{{"what", "cell"}, {"name", label}, {"after", nullptr}}}}})
                .status,
            422);
  EXPECT_EQ(s.post("/api/ticket", {{"document", "project.packhouse"}}).status, 422);
  EXPECT_EQ(s.post("/api/undo", Json::object()).status, 403);
  EXPECT_EQ(s.post("/api/devices/revoke", {{"id", "x"}}).status, 403);
  EXPECT_EQ(s.post("/api/pairing/open", Json::object()).status, 403);
  const std::string phone = s.token;
  s.token = owner;
  std::string id;
  const Json state = s.get("/api/state").json();
  for (const Json& d : state["devices"])
    if (d["paired"]) id = d["id"];
  EXPECT_EQ(s.post("/api/devices/revoke", {{"id", id}}).status, 200);
  s.token = phone;
  EXPECT_EQ(s.get("/api/state").status, 401) << "shut out";
}

TEST(Serve, is_no_wider_than_it_was_asked_to_be) {
  Served s;
  const int c = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(s.port);
  ::inet_pton(AF_INET, "127.0.0.2", &to.sin_addr);  // any other address of this computer
  EXPECT_NE(::connect(c, reinterpret_cast<sockaddr*>(&to), sizeof to), 0);
  ::close(c);
  EXPECT_EQ(s.post("/api/pairing/open", Json::object()).status, 422) << "no LAN, no code";
}

TEST(Serve, shows_a_document_by_a_ticket_in_a_frame_of_its_own) {
  Served s;
  const Json ticket = s.post("/api/ticket", {{"document", "book.html"}}).json();
  const std::string address = ticket["address"];
  const std::string plain = fmt::format("GET {} HTTP/1.1\r\nHost: {}\r\n\r\n", address, s.host);
  const Reply book = s.ask(plain, 20.0);
  EXPECT_EQ(book.status, 200);
  EXPECT_NE(book.head.find("sandbox"), std::string::npos);
  EXPECT_NE(book.head.find("frame-ancestors 'self'"), std::string::npos);
  EXPECT_EQ(s.ask(plain).status, 404) << "once";
  EXPECT_EQ(s.post("/api/ticket", {{"document", "../../etc/passwd"}}).status, 422);
  EXPECT_EQ(s.post("/api/pair", {{"code", std::string(5000, '0')}, {"name", "x"}}).status, 413)
      << "strangers send little";
}

/// A certificate of our own and its key, as PEM.
void make_certificate(const std::filesystem::path& certificate, const std::filesystem::path& key) {
  EVP_PKEY* pair = EVP_RSA_gen(2048);
  X509* x = X509_new();
  ASN1_INTEGER_set(X509_get_serialNumber(x), 1);
  X509_gmtime_adj(X509_getm_notBefore(x), 0);
  X509_gmtime_adj(X509_getm_notAfter(x), 3600);
  X509_set_pubkey(x, pair);
  X509_NAME_add_entry_by_txt(X509_get_subject_name(x), "CN", MBSTRING_ASC,
                             reinterpret_cast<const unsigned char*>("127.0.0.1"), -1, -1, 0);
  X509_set_issuer_name(x, X509_get_subject_name(x));
  X509_sign(x, pair, EVP_sha256());
  BIO* out = BIO_new_file(certificate.c_str(), "w");
  PEM_write_bio_X509(out, x);
  BIO_free(out);
  out = BIO_new_file(key.c_str(), "w");
  PEM_write_bio_PrivateKey(out, pair, nullptr, nullptr, 0, nullptr, nullptr);
  BIO_free(out);
  X509_free(x);
  EVP_PKEY_free(pair);
}

TEST(Serve, speaks_encrypted_with_a_certificate_and_not_in_clear_then) {
  support::Folder folder;
  make_certificate(folder / "cert.pem", folder / "key.pem");
  Served s("cabin", {"--certificate", (folder / "cert.pem").string(), "--key",
                     (folder / "key.pem").string()});
  EXPECT_TRUE(s.first_line.starts_with("https://127.0.0.1:")) << s.first_line;
  const std::string clear = s.raw(fmt::format("GET / HTTP/1.1\r\nHost: {}\r\n\r\n", s.host), 2.0);
  EXPECT_FALSE(clear.starts_with("HTTP/1.1 200")) << clear.substr(0, 80);
  SSL_CTX* context = SSL_CTX_new(TLS_client_method());
  SSL_CTX_load_verify_locations(context, (folder / "cert.pem").c_str(), nullptr);
  SSL_CTX_set_verify(context, SSL_VERIFY_PEER, nullptr);
  BIO* bio = BIO_new_ssl_connect(context);
  BIO_set_conn_hostname(bio, s.host.c_str());
  ASSERT_EQ(BIO_do_connect(bio), 1);
  const std::string request =
      fmt::format("GET / HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", s.host);
  BIO_write(bio, request.data(), static_cast<int>(request.size()));
  char block[4096] = {};
  const int n = BIO_read(bio, block, sizeof block - 1);
  EXPECT_TRUE(
      std::string(block, static_cast<std::size_t>(std::max(n, 0))).starts_with("HTTP/1.1 200"));
  BIO_free_all(bio);
  SSL_CTX_free(context);
  // What is older than TLS 1.2 is not spoken.
  SSL_CTX* old = SSL_CTX_new(TLS_client_method());
  SSL_CTX_set_max_proto_version(old, TLS1_1_VERSION);
  BIO* refused = BIO_new_ssl_connect(old);
  BIO_set_conn_hostname(refused, s.host.c_str());
  EXPECT_NE(BIO_do_connect(refused), 1);
  BIO_free_all(refused);
  SSL_CTX_free(old);
}

TEST(Serve, says_what_is_wrong_before_it_starts) {
  support::Folder folder;
  support::write(folder / "x.packhouse", "not a project");
  EXPECT_EQ(support::packhouse("serve x.packhouse --no-open", folder.path()).code, 2);
  EXPECT_EQ(support::packhouse("serve", folder.path()).code, 2);
  EXPECT_EQ(support::packhouse("serve y.packhouse --no-open --port 70000", folder.path()).code, 2);
  EXPECT_EQ(
      support::packhouse("serve y.packhouse --no-open --lan-address 203.0.113.9", folder.path())
          .code,
      2);
  EXPECT_EQ(support::packhouse("serve y.packhouse --no-open --certificate none.pem --key none.pem",
                               folder.path())
                .code,
            2);
  EXPECT_EQ(
      support::packhouse("serve y.packhouse --no-open --certificate none.pem", folder.path()).code,
      2);
}

}  // namespace
