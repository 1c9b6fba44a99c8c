// SPDX-License-Identifier: Apache-2.0
// One thread moves bytes; four answer; the desk plans and the jobs work on their own.
#include "server/serve.hpp"

#include <chrono>
#include <deque>
#include <list>
#include <memory>
#include <mutex>

#include <arpa/inet.h>
#include <boost/asio.hpp>
#include <boost/asio/ssl.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/ssl.hpp>
#include <boost/beast/version.hpp>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <openssl/rand.h>

#include "base/check.hpp"
#include "base/input_error.hpp"
#include "server/api.hpp"
#include "server/assets.hpp"
#include "server/quota.hpp"
#include "store/files.hpp"

namespace server {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
namespace ssl = asio::ssl;
using asio::ip::tcp;
using base::InputError;
using base::Json;

constexpr unsigned short usual_port = 7313;

std::string random_bytes(std::size_t n) {
  std::string bytes(n, '\0');
  CHECK(RAND_bytes(reinterpret_cast<unsigned char*>(bytes.data()), static_cast<int>(n)) == 1);
  return bytes;
}

double seconds_now() {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

/// Everything behind every answer. The page may be framed by itself only; a document stands alone.
constexpr std::string_view page_policy =
    "default-src 'none'; script-src 'self'; style-src 'self'; style-src-attr 'unsafe-inline'; "
    "img-src 'self' blob: data:; connect-src 'self'; font-src 'self'; frame-src 'self'; form-action "
    "'self'; base-uri 'none'; object-src 'none'; frame-ancestors 'none'; "
    "require-trusted-types-for 'script'; trusted-types svelte-trusted-html default";
constexpr std::string_view document_policy =
    "sandbox allow-modals; default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
    "frame-ancestors 'self'";

/// A line of events to one page that listens.
class Stream {
 public:
  virtual ~Stream() = default;
  virtual void send(const std::string& event) = 0;
};

struct Shared {
  Limits limits;
  Api* api = nullptr;
  Access* access = nullptr;
  asio::io_context* io = nullptr;
  asio::thread_pool* pool = nullptr;
  // Touched by the I/O thread only, as the streams are.
  Quota here{limits.known, limits.strangers}, there{limits.known, limits.strangers};
  std::list<std::weak_ptr<Stream>> streams;
  std::mutex access_mutex;

  void tell(const Json& event) {
    const std::string text =
        "data: " + event.dump(-1, ' ', false, Json::error_handler_t::replace) + "\n\n";
    asio::post(*io, [this, text] {
      for (auto it = streams.begin(); it != streams.end();) {
        if (auto stream = it->lock()) {
          stream->send(text);
          ++it;
        } else {
          it = streams.erase(it);
        }
      }
    });
  }
};

std::map<std::string, std::string, std::less<>> query_of(std::string_view target) {
  std::map<std::string, std::string, std::less<>> query;
  const std::size_t mark = target.find('?');
  if (mark == std::string_view::npos) return query;
  const auto decoded = [](std::string_view text) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
      constexpr std::string_view digits = "0123456789abcdef";
      const auto digit = [&](std::size_t k) {
        return k < text.size() ? digits.find(static_cast<char>(
                                     std::tolower(static_cast<unsigned char>(text[k]))))
                               : std::string_view::npos;
      };
      if (text[i] == '%' && digit(i + 1) != std::string_view::npos &&
          digit(i + 2) != std::string_view::npos) {
        out += static_cast<char>(digit(i + 1) * 16 + digit(i + 2));
        i += 2;
      } else {
        out += text[i] == '+' ? ' ' : text[i];
      }
    }
    return out;
  };
  for (std::string_view rest = target.substr(mark + 1); !rest.empty() && query.size() < 32;) {
    const std::size_t end = std::min(rest.find('&'), rest.size());
    const std::string_view pair = rest.substr(0, end);
    const std::size_t equals = std::min(pair.find('='), pair.size());
    query.emplace(decoded(pair.substr(0, equals)),
                  decoded(pair.substr(std::min(equals + 1, pair.size()))));
    rest.remove_prefix(std::min(end + 1, rest.size()));
  }
  return query;
}

/// One connection, plain or encrypted.
template <class Socket>
class Session final : public std::enable_shared_from_this<Session<Socket>>,
                      public Stream,
                      public Connection {
 public:
  Session(Socket socket, Shared& shared, std::vector<std::string> hosts, std::string_view scheme,
          bool lan)
      : socket_(std::move(socket)),
        shared_(shared),
        hosts_(std::move(hosts)),
        scheme_(scheme),
        lan_(lan) {}

  void start() {
    quota().come(this->shared_from_this());
    if constexpr (encrypted) {
      lowest().expires_after(std::chrono::seconds(shared_.limits.strangers_seconds));
      socket_.async_handshake(ssl::stream_base::server,
                              [self = this->shared_from_this()](beast::error_code error) {
                                if (!error) self->read_head();
                              });
    } else {
      read_head();
    }
  }

  void drop() override { close(); }

  void send(const std::string& event) override {
    if (!streaming_ || waiting_.size() > 1000) return;
    waiting_.push_back(event);
    if (waiting_.size() == 1) write_waiting();
  }

 private:
  static constexpr bool encrypted = !std::is_same_v<Socket, beast::tcp_stream>;
  beast::tcp_stream& lowest() { return beast::get_lowest_layer(socket_); }
  Quota& quota() { return lan_ ? shared_.there : shared_.here; }

  void read_head() {
    parser_.emplace();
    parser_->header_limit(static_cast<std::uint32_t>(shared_.limits.header_bytes));
    parser_->body_limit(shared_.limits.body_bytes);
    // Who has shown no token has little time to.
    lowest().expires_after(std::chrono::seconds(known_ ? shared_.limits.idle_seconds
                                                       : shared_.limits.strangers_seconds));
    http::async_read_header(socket_, buffer_, *parser_,
                            [self = this->shared_from_this()](
                                beast::error_code error, std::size_t) { self->on_head(error); });
  }

  void on_head(beast::error_code error) {
    if (error == http::error::end_of_stream || error == beast::error::timeout ||
        error == asio::error::eof || error == asio::error::connection_reset)
      return close();
    if (error == http::error::body_limit) return refuse({413, "a body too long"});
    if (error == http::error::header_limit) return refuse({431, "headers too long"});
    if (error) return refuse({400, "no request"});
    const auto& message = parser_->get();
    head_ = {std::string(message.method_string()), std::string(message.target()), {}};
    for (const auto& field : message)
      head_.fields.push_back({std::string(field.name_string()), std::string(field.value())});
    if (message.version() != 11 && message.version() != 10) return refuse({505, "a version"});
    if (const auto refusal = refuse_head(head_, hosts_, scheme_, shared_.limits))
      return refuse(*refusal);
    ask_ = {head_.method, std::string(head_.path()), query_of(head_.target), "", {}, seconds_now()};
    if (const auto token = head_.one(token_header)) {
      const std::lock_guard lock(shared_.access_mutex);
      ask_.device = shared_.access->who(std::string(*token), ask_.now_s);
    }
    known_ = ask_.device && quota().know(this->shared_from_this());
    if (ask_.device && !known_) return refuse({503, "too many connections"});
    if (ask_.path == "/api/events") return open_stream();
    if (is_data(ask_.path))
      if (const auto refusal = shared_.api->refuse(ask_)) return refuse(*refusal);
    // The true cap, once it is known who asks: before any of the body is read.
    const std::size_t most = !ask_.device || Api::for_anybody(ask_.path)
                                 ? shared_.limits.strangers_body_bytes
                             : lan_ ? shared_.limits.lan_body_bytes
                                    : shared_.limits.body_bytes;
    const std::size_t cap = is_json(head_) ? std::min(most, shared_.limits.json_bytes) : most;
    parser_->body_limit(cap);
    if (const auto length = parser_->content_length(); length && *length > cap)
      return refuse({413, "a body too long"});
    lowest().expires_after(std::chrono::seconds(known_ ? shared_.limits.read_seconds
                                                       : shared_.limits.strangers_seconds));
    http::async_read(socket_, buffer_, *parser_,
                     [self = this->shared_from_this()](beast::error_code e, std::size_t) {
                       if (e == http::error::body_limit)
                         return self->refuse({413, "a body too long"});
                       if (e) return self->close();
                       self->on_request();
                     });
  }

  void on_request() {
    ask_.body = std::move(parser_->get().body());
    keep_alive_ = parser_->get().keep_alive();
    lowest().expires_never();  // the answer takes as long as it takes
    if (is_data(ask_.path)) {
      asio::post(*shared_.pool, [self = this->shared_from_this()] {
        self->shared_.api->answer(self->ask_, [self](Answer answer) {
          asio::post(self->lowest().get_executor(), [self, answer = std::move(answer)]() mutable {
            self->reply(std::move(answer));
          });
        });
      });
      return;
    }
    if (ask_.path.starts_with("/t/")) return show_document();
    const Asset* asset = find_asset(ask_.path == "/" ? "/index.html" : ask_.path);
    if (asset == nullptr) return refuse({404, "no such file"});
    reply_asset(*asset);
  }

  void show_document() {
    const std::size_t end = std::min(ask_.path.find('/', 3), ask_.path.size());
    std::optional<std::string> what;
    {
      const std::lock_guard lock(shared_.access_mutex);
      what = shared_.access->take_ticket(ask_.path.substr(3, end - 3), ask_.now_s);
    }
    if (!what || ask_.path.substr(std::min(end + 1, ask_.path.size())) != *what)
      return refuse({404, "no such ticket"});
    asio::post(*shared_.pool, [self = this->shared_from_this(), what = *what] {
      Answer answer = self->shared_.api->document(what);
      asio::post(self->lowest().get_executor(),
                 [self, answer = std::move(answer)]() mutable { self->reply(std::move(answer)); });
    });
  }

  template <class Body>
  void put_common(http::response<Body>& r, std::string_view type, bool document) {
    r.set(http::field::server, "Packhouse");
    r.set(http::field::content_type, beast::string_view(type.data(), type.size()));
    r.set("X-Content-Type-Options", "nosniff");
    r.set("Referrer-Policy", "no-referrer");
    r.set("Cross-Origin-Resource-Policy", "same-origin");
    r.set("Cross-Origin-Opener-Policy", "same-origin");
    const std::string_view policy = document ? document_policy : page_policy;
    r.set("Content-Security-Policy", beast::string_view(policy.data(), policy.size()));
    r.set("Permissions-Policy", "camera=(), microphone=(), geolocation=()");
    r.keep_alive(keep_alive_);
  }

  void reply(Answer answer) {
    auto r = std::make_shared<http::response<http::string_body>>(
        static_cast<http::status>(answer.status), 11);
    put_common(*r, answer.type, answer.document || answer.type == "application/octet-stream");
    r->set(http::field::cache_control, "no-store");
    for (const auto& [name, value] : answer.headers) r->set(name, value);
    r->body() = std::move(answer.body);
    r->prepare_payload();
    write(r);
  }

  void reply_asset(const Asset& asset) {
    const auto encodings = head_.one(encoding_header);
    const bool gzip = encodings && encodings->find("gzip") != std::string_view::npos;
    auto r = std::make_shared<http::response<http::span_body<const char>>>(http::status::ok, 11);
    put_common(*r, asset.type, false);
    r->set(http::field::cache_control,
           asset.lasting() ? "public, max-age=31536000, immutable" : "no-cache");
    r->set(http::field::vary, "Accept-Encoding");
    if (gzip) r->set(http::field::content_encoding, "gzip");
    const std::string_view bytes = gzip ? asset.gzipped : asset.raw;
    r->body() = beast::span<const char>(bytes.data(), bytes.size());
    r->prepare_payload();
    write(r);
  }

  /// An empty answer, and the end of the connection: what was left of the request is not read.
  void refuse(const Refusal& refusal) {
    keep_alive_ = false;
    auto r = std::make_shared<http::response<http::string_body>>(
        static_cast<http::status>(refusal.status), 11);
    put_common(*r, "text/plain; charset=utf-8", false);
    r->set(http::field::cache_control, "no-store");
    if (refusal.status == 405) r->set(http::field::allow, "GET, POST");
    r->prepare_payload();
    write(r);
  }

  template <class Response>
  void write(std::shared_ptr<Response> response) {
    lowest().expires_after(std::chrono::seconds(shared_.limits.read_seconds));
    http::async_write(
        socket_, *response,
        [self = this->shared_from_this(), response](beast::error_code error, std::size_t) {
          if (error || !self->keep_alive_) return self->close();
          self->read_head();
        });
  }

  void open_stream() {
    shared_.streams.remove_if([](const auto& s) { return s.expired(); });
    if (head_.method != "GET") return refuse({405, "another method"});
    if (!ask_.device) return refuse({401, "no token, or an old one"});
    if (shared_.streams.size() >= shared_.limits.streams) return refuse({503, "too many streams"});
    streaming_ = true;
    keep_alive_ = false;
    lowest().expires_never();
    waiting_.push_back(
        fmt::format("HTTP/1.1 200 OK\r\nContent-Type: text/event-stream; charset=utf-8\r\n"
                    "Cache-Control: no-store\r\nX-Content-Type-Options: nosniff\r\n"
                    "Cross-Origin-Resource-Policy: same-origin\r\nConnection: close\r\n\r\n"
                    ": packhouse\n\n"));
    shared_.streams.push_back(this->weak_from_this());
    timer_.emplace(lowest().get_executor());
    write_waiting();
    beat();
    watch_for_end();
  }

  /// A breath now and then, so that both sides learn when the other is gone.
  void beat() {
    timer_->expires_after(std::chrono::seconds(15));
    timer_->async_wait([self = this->shared_from_this()](beast::error_code error) {
      if (error || !self->streaming_) return;
      bool known = false;
      {
        const std::lock_guard lock(self->shared_.access_mutex);
        const auto token = self->head_.one(token_header);
        known = token && self->shared_.access->who(std::string(*token), seconds_now());
      }
      if (!known) return self->close();  // revoked meanwhile
      self->send(": \n\n");
      self->beat();
    });
  }

  void watch_for_end() {
    socket_.async_read_some(asio::buffer(spare_), [self = this->shared_from_this()](
                                                      beast::error_code error, std::size_t) {
      if (error) return self->close();
      self->watch_for_end();
    });
  }

  void write_waiting() {
    asio::async_write(socket_, asio::buffer(waiting_.front()),
                      [self = this->shared_from_this()](beast::error_code error, std::size_t) {
                        if (error) return self->close();
                        self->waiting_.pop_front();
                        if (!self->waiting_.empty()) self->write_waiting();
                      });
  }

  void close() {
    streaming_ = false;
    if (timer_) timer_->cancel();
    beast::error_code ignored;
    lowest().socket().shutdown(tcp::socket::shutdown_send, ignored);
    lowest().socket().close(ignored);
  }

  Socket socket_;
  Shared& shared_;
  std::vector<std::string> hosts_;
  std::string_view scheme_;
  bool lan_;
  beast::flat_buffer buffer_{std::size_t{1} << 20};
  std::optional<http::request_parser<http::string_body>> parser_;
  Head head_;
  Ask ask_;
  bool keep_alive_ = false, streaming_ = false, known_ = false;
  std::deque<std::string> waiting_;
  std::optional<asio::steady_timer> timer_;
  std::array<char, 256> spare_{};
};

class Listener : public std::enable_shared_from_this<Listener> {
 public:
  Listener(asio::io_context& io, tcp::acceptor acceptor, Shared& shared,
           std::vector<std::string> hosts, ssl::context* tls, bool lan)
      : io_(io),
        pause_(io),
        acceptor_(std::move(acceptor)),
        shared_(shared),
        hosts_(std::move(hosts)),
        tls_(tls),
        lan_(lan) {}

  void accept() {
    acceptor_.async_accept(io_, [self = shared_from_this()](beast::error_code error,
                                                            tcp::socket s) {
      if (!error) {
        beast::error_code ignored;
        s.set_option(tcp::no_delay(true), ignored);
        if (self->tls_ != nullptr)
          std::make_shared<Session<beast::ssl_stream<beast::tcp_stream>>>(
              beast::ssl_stream<beast::tcp_stream>(beast::tcp_stream(std::move(s)), *self->tls_),
              self->shared_, self->hosts_, "https", self->lan_)
              ->start();
        else
          std::make_shared<Session<beast::tcp_stream>>(
              beast::tcp_stream(std::move(s)), self->shared_, self->hosts_, "http", self->lan_)
              ->start();
      }
      if (!self->acceptor_.is_open()) return;
      if (!error || error == asio::error::connection_aborted) return self->accept();
      // No descriptor or memory left: some come back when others end; asking at once would spin.
      self->pause_.expires_after(std::chrono::milliseconds(200));
      self->pause_.async_wait([self](beast::error_code) { self->accept(); });
    });
  }

 private:
  asio::io_context& io_;
  asio::steady_timer pause_;
  tcp::acceptor acceptor_;
  Shared& shared_;
  std::vector<std::string> hosts_;
  ssl::context* tls_;
  bool lan_;
};

tcp::acceptor listen_on(asio::io_context& io, const std::string& address, unsigned short port) {
  beast::error_code error;
  const auto ip = asio::ip::make_address(address, error);
  if (error)
    throw InputError({"--lan", 0, 0}, fmt::format("'{}'", address), "an address of this computer",
                     "see its network settings");
  tcp::acceptor acceptor(io);
  acceptor.open(ip.is_v4() ? tcp::v4() : tcp::v6());
  acceptor.set_option(asio::socket_base::reuse_address(true));
  acceptor.bind({ip, port}, error);
  if (!error) acceptor.listen(asio::socket_base::max_listen_connections, error);
  if (error)
    throw InputError({fmt::format("{}:{}", address, port), 0, 0}, error.message(),
                     "an address and a port that are free", "choose another: --port N");
  return acceptor;
}

/// The usual port, or any where that is taken and nobody asked for it.
tcp::acceptor listen_here(asio::io_context& io, unsigned short port) {
  if (port != 0) return listen_on(io, "127.0.0.1", port);
  try {
    return listen_on(io, "127.0.0.1", usual_port);
  } catch (const InputError&) {
    return listen_on(io, "127.0.0.1", 0);
  }
}

/// The first address of a network card that is up; IPv4, private.
std::string address_in_the_house() {
  ifaddrs* all = nullptr;
  std::string found;
  if (::getifaddrs(&all) != 0) return found;
  for (const ifaddrs* i = all; i != nullptr && found.empty(); i = i->ifa_next) {
    if (i->ifa_addr == nullptr || i->ifa_addr->sa_family != AF_INET) continue;
    if ((i->ifa_flags & IFF_LOOPBACK) != 0 || (i->ifa_flags & IFF_UP) == 0) continue;
    char text[INET_ADDRSTRLEN] = {};
    sockaddr_in in{};
    std::memcpy(&in, i->ifa_addr, sizeof in);
    if (::inet_ntop(AF_INET, &in.sin_addr, text, sizeof text) != nullptr) found = text;
  }
  ::freeifaddrs(all);
  return found;
}

std::string fingerprint_of(const std::filesystem::path& certificate) {
  const std::string pem = store::read_file(certificate);
  BIO* bio = BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size()));
  X509* x = PEM_read_bio_X509(bio, nullptr, nullptr, nullptr);
  BIO_free(bio);
  if (x == nullptr) return "";
  unsigned char digest[EVP_MAX_MD_SIZE];
  unsigned int n = 0;
  std::string text;
  if (X509_digest(x, EVP_sha256(), digest, &n) == 1)
    for (unsigned int i = 0; i < n; ++i)
      text += fmt::format("{}{:02X}", i > 0 ? ":" : "", digest[i]);
  X509_free(x);
  return text;
}

std::unique_ptr<ssl::context> tls_of(const ServeOptions& options) {
  if (options.certificate.empty() && options.key.empty()) return nullptr;
  try {
    auto context = std::make_unique<ssl::context>(ssl::context::tls_server);
    context->set_options(ssl::context::default_workarounds | ssl::context::no_sslv2 |
                         ssl::context::no_sslv3 | ssl::context::no_tlsv1 |
                         ssl::context::no_tlsv1_1);
    context->use_certificate_chain_file(options.certificate.string());
    context->use_private_key_file(options.key.string(), ssl::context::pem);
    return context;
  } catch (const boost::system::system_error& e) {
    throw InputError({options.certificate.string(), 0, 0}, e.code().message(),
                     "a certificate and its key, as PEM", "give both: --certificate and --key");
  }
}

}  // namespace

void serve(const ServeOptions& options) {
  const std::unique_ptr<ssl::context> tls = tls_of(options);
  const std::string scheme = tls ? "https" : "http";
  Shared shared;  // before the sockets: they count themselves out when they go
  asio::io_context io(1);
  tcp::acceptor here = listen_here(io, options.port);
  const unsigned short port = here.local_endpoint().port();
  std::string lan_ip;
  std::optional<tcp::acceptor> there;
  if (options.lan) {
    lan_ip = options.lan_address.empty() ? address_in_the_house() : options.lan_address;
    if (lan_ip.empty())
      throw InputError({"--lan", 0, 0}, "no network card that is up", "a network",
                       "connect to it, or say the address: --lan-address 192.168.1.5");
    there.emplace(listen_on(io, lan_ip, port));
  }
  const std::string address = fmt::format("{}://127.0.0.1:{}", scheme, port),
                    lan = lan_ip.empty() ? "" : fmt::format("{}://{}:{}", scheme, lan_ip, port);

  shared.io = &io;
  const auto tell = [&shared](const Json& event) { shared.tell(event); };
  Access access(random_bytes, [](const std::string& text) { return store::sha256(text); });
  Jobs jobs(tell);
  Desk desk(options.file, fmt::format("packhouse serve at {}", address), tell, [] {
    return static_cast<std::int64_t>(
        std::chrono::system_clock::to_time_t(std::chrono::system_clock::now()));
  });
  Api api(desk, access, shared.access_mutex, jobs,
          {options.today, lan, tls != nullptr, tls ? fingerprint_of(options.certificate) : ""});
  asio::thread_pool pool(4);
  shared.api = &api;
  shared.access = &access;
  shared.pool = &pool;

  std::make_shared<Listener>(
      io, std::move(here), shared,
      std::vector<std::string>{fmt::format("127.0.0.1:{}", port), fmt::format("localhost:{}", port),
                               fmt::format("[::1]:{}", port)},
      tls.get(), false)
      ->accept();
  if (there)
    std::make_shared<Listener>(io, std::move(*there), shared,
                               std::vector<std::string>{fmt::format("{}:{}", lan_ip, port)},
                               tls.get(), true)
        ->accept();

  asio::signal_set signals(io, SIGINT, SIGTERM);
  signals.async_wait([&](beast::error_code, int) { io.stop(); });
  options.ready(fmt::format("{}/#key={}", address, access.link_key()), lan);
  io.run();
  pool.join();
}

}  // namespace server
