// SPDX-License-Identifier: Apache-2.0
#include "server/guard.hpp"

#include <algorithm>

#include "base/number.hpp"

namespace server {
namespace {

bool same_name(std::string_view a, std::string_view b) { return base::lower(a) == base::lower(b); }

/// "application/json" of "Application/JSON; charset=utf-8"; empty where nothing is said.
std::string media_type(const Head& head) {
  const auto type = head.one(type_header);
  if (!type) return "";
  std::string kind = base::lower(type->substr(0, std::min(type->find(';'), type->size())));
  while (!kind.empty() && kind.back() == ' ') kind.pop_back();
  return kind;
}

std::optional<Refusal> refuse_target(const Head& head, const Limits& limits) {
  const std::string_view target = head.target, path = head.path();
  if (path.size() > limits.path_bytes || target.size() > limits.path_bytes + limits.query_bytes)
    return Refusal{414, "a path too long"};
  if (target.empty() || target.front() != '/' || target.starts_with("//"))
    return Refusal{400, "no plain path"};
  for (const char c : target)
    if (static_cast<unsigned char>(c) <= 0x20 || static_cast<unsigned char>(c) >= 0x7f ||
        c == '\\' || c == '#')
      return Refusal{400, "no plain path"};
  // Our own paths need neither dots between slashes nor anything encoded.
  if (path.find("..") != std::string_view::npos || path.find("//") != std::string_view::npos ||
      path.find('%') != std::string_view::npos || path.find(':') != std::string_view::npos)
    return Refusal{404, "no such path"};
  return std::nullopt;
}

}  // namespace

std::size_t Head::count(std::string_view name) const {
  return static_cast<std::size_t>(std::count_if(
      fields.begin(), fields.end(), [&](const Field& f) { return same_name(f.name, name); }));
}

std::optional<std::string_view> Head::one(std::string_view name) const {
  std::optional<std::string_view> found;
  for (const Field& f : fields) {
    if (!same_name(f.name, name)) continue;
    if (found) return std::nullopt;
    found = f.value;
  }
  return found;
}

std::string_view Head::path() const {
  return std::string_view(target).substr(0, std::min(target.find('?'), target.size()));
}

bool is_json(const Head& head) { return media_type(head) == "application/json"; }

bool is_data(std::string_view path) { return path.starts_with("/api/"); }

std::optional<Refusal> refuse_head(const Head& head, const std::vector<std::string>& hosts,
                                   std::string_view scheme, const Limits& limits) {
  const auto host = head.one(host_header);
  if (!host || std::find_if(hosts.begin(), hosts.end(), [&](const std::string& h) {
                 return same_name(h, *host);
               }) == hosts.end())
    return Refusal{421, "not a host of ours"};
  for (const Field& f : head.fields)
    if (f.name.size() + f.value.size() > limits.line_bytes) return Refusal{431, "a line too long"};
  if (auto refusal = refuse_target(head, limits)) return refusal;
  const bool get = head.method == "GET", post = head.method == "POST";
  if (!get && !post) return Refusal{405, "neither GET nor POST"};
  if (head.count(length_header) > 1 || head.count(transfer_header) > 1 ||
      (head.count(length_header) > 0 && head.count(transfer_header) > 0))
    return Refusal{400, "framed in two ways"};
  if (const auto transfer = head.one(transfer_header); transfer && !same_name(*transfer, "chunked"))
    return Refusal{400, "a framing that is not chunks"};
  const bool data = is_data(head.path());
  const auto site = head.one(site_header);
  if (data) {
    if (site && *site != "same-origin" && *site != "none") return Refusal{403, "from another site"};
    if (head.one(own_header) != "1") return Refusal{403, "without our header"};
    if (const auto origin = head.one(origin_header);
        head.count(origin_header) > 0 &&
        (!origin || !same_name(*origin, std::string(scheme) + "://" + std::string(*host))))
      return Refusal{403, "from another origin"};
  }
  if (post) {
    if (!data) return Refusal{405, "the page takes no changes"};
    if (head.count(origin_header) != 1) return Refusal{403, "without an origin"};
    const std::string kind = media_type(head);
    if (kind != "application/json" && kind != "application/octet-stream")
      return Refusal{415, "neither JSON nor bytes"};
  }
  return std::nullopt;
}

}  // namespace server
