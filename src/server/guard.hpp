// SPDX-License-Identifier: Apache-2.0
// What a request must look like before anything is done for it. Pure: a head in, a refusal out.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace server {

// Names of headers stand here once: a mistyped one would refuse nothing.
inline constexpr std::string_view host_header = "Host", origin_header = "Origin",
                                  type_header = "Content-Type", token_header = "X-Packhouse-Token",
                                  own_header = "X-Packhouse", site_header = "Sec-Fetch-Site",
                                  encoding_header = "Accept-Encoding",
                                  transfer_header = "Transfer-Encoding",
                                  length_header = "Content-Length";

struct Limits {
  std::size_t header_bytes = 32 * 1024, line_bytes = 8 * 1024, path_bytes = 256, query_bytes = 1024;
  std::size_t body_bytes = 64u << 20, lan_body_bytes = 16u << 20,
              strangers_body_bytes = 4096;  ///< of those who have no token yet
  std::size_t json_bytes = 8u << 20;        ///< a table of a year is a tenth of it
  /// How many may be connected who showed a token, and how many who did not yet: each from this
  /// computer and from the network by itself, so that strangers take nobody's place but strangers'.
  std::size_t known = 64, strangers = 32, streams = 16;
  int read_seconds = 30, idle_seconds = 60, strangers_seconds = 10;
};

struct Field {
  std::string name, value;
};
struct Head {
  std::string method, target;
  std::vector<Field> fields;
  /// The one value of a field; nothing where it is missing or said twice.
  [[nodiscard]] std::optional<std::string_view> one(std::string_view name) const;
  [[nodiscard]] std::size_t count(std::string_view name) const;
  [[nodiscard]] std::string_view path() const;
};

struct Refusal {
  int status = 400;
  std::string why;  ///< a short word for the log; the body stays empty
};

/// `hosts`: the exact names with port that this server answers to. `scheme`: "http" or "https".
/// Refused: no Host or two or another (421); a target that is no plain path (400), too long (414),
/// a line too long (431); a method that is neither GET nor POST (405); two framings at once (400);
/// a request for data without our own header (403) or from another site (403); a change without an
/// Origin of ours (403) or in a form that a plain page can send (415).
[[nodiscard]] std::optional<Refusal> refuse_head(const Head& head,
                                                 const std::vector<std::string>& hosts,
                                                 std::string_view scheme, const Limits& limits);

/// What comes behind this head says that it is JSON.
[[nodiscard]] bool is_json(const Head& head);
/// Data and changes; all else is the page itself.
[[nodiscard]] bool is_data(std::string_view path);

}  // namespace server
