// SPDX-License-Identifier: Apache-2.0
#include "server/guard.hpp"

#include <gtest/gtest.h>

namespace {

using server::Field;
using server::Head;

const std::vector<std::string> hosts = {"127.0.0.1:7313", "localhost:7313", "[::1]:7313"};

int status(const Head& head) {
  const auto refusal = server::refuse_head(head, hosts, "http", server::Limits{});
  return refusal ? refusal->status : 200;
}

Head get(std::string target, std::vector<Field> more = {}) {
  Head head{"GET", std::move(target), {{"Host", "127.0.0.1:7313"}}};
  head.fields.insert(head.fields.end(), more.begin(), more.end());
  return head;
}
Head change(std::vector<Field> more) {
  Head head{"POST", "/api/changes", {{"Host", "127.0.0.1:7313"}}};
  head.fields.insert(head.fields.end(), more.begin(), more.end());
  return head;
}
const Field ours{"X-Packhouse", "1"}, origin{"Origin", "http://127.0.0.1:7313"},
    json{"Content-Type", "application/json"};

TEST(Guard, answers_only_to_its_own_names) {
  EXPECT_EQ(status({"GET", "/", {{"Host", "127.0.0.1:7313"}}}), 200);
  EXPECT_EQ(status({"GET", "/", {{"host", "LOCALHOST:7313"}}}), 200);
  EXPECT_EQ(status({"GET", "/", {{"Host", "[::1]:7313"}}}), 200);
  for (const char* host :
       {"", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:7313.", "localhost.:7313", "evil.example:7313",
        "evil@127.0.0.1:7313", "127.0.0.1:7313,evil", "127.1:7313", "0.0.0.0:7313"})
    EXPECT_EQ(status({"GET", "/", {{"Host", host}}}), 421) << host;
  EXPECT_EQ(status({"GET", "/", {}}), 421);
  EXPECT_EQ(status({"GET", "/", {{"Host", "127.0.0.1:7313"}, {"Host", "127.0.0.1:7313"}}}), 421);
  EXPECT_EQ(status({"GET", "/nothing", {{"Host", "evil.example"}}}), 421) << "before any path";
}

TEST(Guard, takes_plain_paths_only) {
  EXPECT_EQ(status(get("/assets/page-x.js")), 200);
  for (const char* target : {"http://127.0.0.1:7313/", "*", "//evil/", "/a b", "/a\\b", "/a#b"})
    EXPECT_EQ(status(get(target)), 400) << target;
  for (const char* target : {"/../etc/passwd", "/..%2f..%2fetc", "/%252e%252e/", "/a//b", "/C:/x",
                             "/CON%00", "/x::$DATA", "/%c0%ae/"})
    EXPECT_EQ(status(get(target)), 404) << target;
  EXPECT_EQ(status(get("/" + std::string(256, 'a'))), 414);
  EXPECT_EQ(status(get("/" + std::string(255, 'a'))), 200);
  EXPECT_EQ(status(get("/?" + std::string(2000, 'a'))), 414);
}

TEST(Guard, takes_no_other_methods) {
  for (const char* method :
       {"OPTIONS", "PUT", "DELETE", "TRACE", "HEAD", "PATCH", "CONNECT", "get"})
    EXPECT_EQ(status({method, "/", {{"Host", "127.0.0.1:7313"}}}), 405) << method;
}

TEST(Guard, wants_our_header_and_our_origin_for_data) {
  EXPECT_EQ(status(get("/api/state")), 403);
  EXPECT_EQ(status(get("/api/state", {ours})), 200);
  EXPECT_EQ(status(get("/api/state", {ours, {"Sec-Fetch-Site", "cross-site"}})), 403);
  EXPECT_EQ(status(get("/api/state", {ours, {"Sec-Fetch-Site", "same-site"}})), 403);
  EXPECT_EQ(status(get("/api/state", {ours, {"Origin", "http://evil.example"}})), 403);
  EXPECT_EQ(status(get("/api/state", {ours, {"Origin", "null"}})), 403);
  EXPECT_EQ(status(get("/api/state", {{"X-Packhouse", "0"}})), 403);
  EXPECT_EQ(status(get("/api/state", {ours, ours})), 403) << "said twice is not said";
  EXPECT_EQ(status(change({ours, origin, json})), 200);
  EXPECT_EQ(status(change({ours, json})), 403) << "no origin";
  EXPECT_EQ(status(change({ours, {"Origin", "https://127.0.0.1:7313"}, json})), 403);
  EXPECT_EQ(status(change({ours, {"Origin", "http://localhost:7313"}, json})), 403)
      << "another name of ours is another origin";
  EXPECT_EQ(status(change({origin, json})), 403) << "a plain form cannot send our header";
}

TEST(Guard, takes_changes_as_json_or_bytes_only) {
  for (const char* type :
       {"text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""})
    EXPECT_EQ(status(change({ours, origin, {"Content-Type", type}})), 415) << type;
  EXPECT_EQ(status(change({ours, origin})), 415);
  EXPECT_EQ(status(change({ours, origin, {"Content-Type", "application/json; charset=utf-8"}})),
            200);
  EXPECT_EQ(status({"POST", "/", {{"Host", "127.0.0.1:7313"}, ours, origin, json}}), 405);
}

TEST(Guard, refuses_what_is_framed_in_two_ways) {
  EXPECT_EQ(status(change(
                {ours, origin, json, {"Content-Length", "2"}, {"Transfer-Encoding", "chunked"}})),
            400);
  EXPECT_EQ(status(change({ours, origin, json, {"Content-Length", "2"}, {"Content-Length", "2"}})),
            400);
  EXPECT_EQ(status(get("/", {{"X-Long", std::string(9000, 'a')}})), 431);
}

}  // namespace
