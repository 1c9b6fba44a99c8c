// SPDX-License-Identifier: Apache-2.0
// The JSON API (docs/api/openapi.yaml): what is asked, what is answered. Knows no sockets.
#pragma once

#include <functional>
#include <map>
#include <mutex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "match/match.hpp"
#include "server/access.hpp"
#include "server/desk.hpp"
#include "server/guard.hpp"
#include "server/jobs.hpp"

namespace server {

struct Ask {
  std::string method, path;
  std::map<std::string, std::string, std::less<>> query;
  std::string body;
  std::optional<Device> device;  ///< whose token came along; none where none or a wrong one did
  double now_s = 0.0;

  /// One value of the query, or nothing ("").
  [[nodiscard]] const std::string& asked(std::string_view key) const;
};

struct Answer {
  int status = 200;
  std::string type = "application/json; charset=utf-8";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers = {};
  bool document = false;  ///< shown by itself, in a frame or as a download
};
[[nodiscard]] Answer json_answer(const base::Json& json, int status = 200);
/// {"error": …} or {"conflict": …} for what was thrown; our own faults say little.
[[nodiscard]] Answer answer_of(const std::exception& error);

/// What the server knows of itself.
struct Circumstances {
  std::function<std::string()> today;
  std::string lan_address;  ///< empty: this computer only
  bool encrypted = false;
  std::string fingerprint;  ///< of its certificate
};

class Api {
 public:
  /// `access_mutex` guards `access`, which the sockets ask too.
  Api(Desk& desk, Access& access, std::mutex& access_mutex, Jobs& jobs,
      Circumstances circumstances);

  struct Route {
    std::string_view method, path;
    enum class Who { anybody, bench, owner } who = Who::owner;
    void (Api::*run)(const Ask&, const std::function<void(Answer)>&) = nullptr;
  };
  [[nodiscard]] static const std::vector<Route>& routes();

  /// Whether a path answers without a token: then its body is short.
  [[nodiscard]] static bool for_anybody(std::string_view path);
  /// Whether the request may have a body read for it at all: a known path by somebody who may.
  [[nodiscard]] std::optional<Refusal> refuse(const Ask& ask) const;
  /// Answers once, from this thread or later from the planning one. Never throws.
  void answer(const Ask& ask, const std::function<void(Answer)>& reply);
  /// The document of a ticket that was taken; 404 for none.
  [[nodiscard]] Answer document(const std::string& what);

 private:
  using Reply = std::function<void(Answer)>;
  // Who is in (api_access.cpp).
  void enter(const Ask&, const Reply&);
  void pair(const Ask&, const Reply&);
  void pairing(const Ask&, const Reply&);
  void open_pairing(const Ask&, const Reply&);
  void close_pairing(const Ask&, const Reply&);
  void revoke(const Ask&, const Reply&);
  void role(const Ask&, const Reply&);
  void link(const Ask&, const Reply&);
  // The project and its plan (api.cpp).
  void state(const Ask&, const Reply&);
  void begin(const Ask&, const Reply&);
  void project(const Ask&, const Reply&);
  void changes(const Ask&, const Reply&);
  void undo(const Ask&, const Reply&);
  void redo(const Ask&, const Reply&);
  void plan(const Ask&, const Reply&);
  void known(const Ask&, const Reply&);
  void reckon(const Ask&, const Reply&);
  void series(const Ask&, const Reply&);
  void circuit_tables(const Ask&, const Reply&);
  void checklists(const Ask&, const Reply&);
  void sign(const Ask&, const Reply&);
  void ticket(const Ask&, const Reply&);
  // Cells, logs, places, years (api_cells.cpp).
  void curves(const Ask&, const Reply&);
  void log_series(const Ask&, const Reply&);
  void look_at_log(const Ask&, const Reply&);
  void keep_log(const Ask&, const Reply&);
  void keep_photo(const Ask&, const Reply&);
  void photo(const Ask&, const Reply&);
  void exchange(const Ask&, const Reply&);
  void what_if_places(const Ask&, const Reply&);
  void what_if_plan(const Ask&, const Reply&);
  void year(const Ask&, const Reply&);
  void drawing(const Ask&, const Reply&);
  void start_job(const Ask&, const Reply&);
  void job(const Ask&, const Reply&);
  void stop_job(const Ask&, const Reply&);

  [[nodiscard]] std::shared_ptr<const project::Project> open_project() const;
  [[nodiscard]] Planned open_plan();

  /// The arrangement that the last exchange left: the next one starts there, without waiting until
  /// the plan has caught up.
  struct Exchanged {
    std::uint64_t revision = 0;
    Planned before;
    match::Assignment assignment;
    std::string key;  ///< of the request; the same one sent again gets the same answer
    base::Json answer;
  };
  [[nodiscard]] Exchanged arranged_now();
  std::mutex exchange_mutex_;
  Exchanged exchanged_;

  Desk& desk_;
  Access& access_;
  std::mutex& access_mutex_;
  Jobs& jobs_;
  Circumstances circumstances_;
};

/// The body as JSON; throws InputError that says where it is none. Depth and size are bounded.
[[nodiscard]] base::Json body_of(const Ask& ask);
/// What the desk needs to make a request once: its key, and the hash of all that came with it.
[[nodiscard]] Desk::Sent sent_with(const Ask& ask, const std::string& key);
/// A text or a number of an object, or what stands for its absence.
[[nodiscard]] std::string text_in(const base::Json& json, std::string_view key);

}  // namespace server
