#include "sim/io/panel/http_client.hpp"

#include <chrono>
#include <exception>
#include <future>
#include <memory>
#include <thread>
#include <utility>

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http.hpp>

#include "sim/base/duration_text.hpp"

namespace emberline::io {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = beast::http;
using boost::system::error_code;

constexpr std::size_t kLongestAnswer = 32 * 1024 * 1024;
constexpr std::string_view kScheme = "http://";

/// "http://HOST[:PORT][/]" taken apart.
struct Place {
  std::string authority;  ///< as it stands in the Host header
  std::string host;
  std::string port = "80";
};

std::optional<Place> place_of(const std::string& url) {
  if (!is_panel_url(url)) return std::nullopt;
  Place place;
  const auto rest = url.substr(kScheme.size());
  const auto slash = rest.find('/');
  if (slash != std::string::npos && slash + 1 != rest.size()) return std::nullopt;
  place.authority = rest.substr(0, slash);
  const auto bracket = place.authority.find(']');
  const auto colon = place.authority.find(':', bracket == std::string::npos ? 0 : bracket);
  place.host = place.authority.substr(0, colon);
  if (colon != std::string::npos) place.port = place.authority.substr(colon + 1);
  if (place.host.starts_with('[') && place.host.ends_with(']'))
    place.host = place.host.substr(1, place.host.size() - 2);
  if (place.host.empty() || place.port.empty() || place.port.size() > 5 ||
      place.port.find_first_not_of("0123456789") != std::string::npos ||
      place.authority.find_first_of("@?# \t\r\n") != std::string::npos)
    return std::nullopt;
  return place;
}

/// One request and its answer, step by step on an io_context that runs no longer than patience lasts.
class Conversation {
 public:
  Conversation(const PanelCall& call, Place place) : place_(std::move(place)), patience_(call.patience) {
    request_.version(11);
    request_.method(call.body ? http::verb::post : http::verb::get);
    request_.target(call.path);
    request_.set(http::field::host, place_.authority);
    request_.set(http::field::user_agent, "emberline");
    request_.set(http::field::connection, "close");
    if (!call.token.empty()) request_.set(http::field::authorization, "Bearer " + call.token);
    if (call.body) {
      request_.set(http::field::content_type, "application/json");
      request_.body() = *call.body;
    }
    request_.prepare_payload();
    parser_.body_limit(kLongestAnswer);
  }
  Result<PanelResponse, std::string> run() {
    resolver_.async_resolve(
        place_.host, place_.port,
        [this](const error_code& error, const asio::ip::tcp::resolver::results_type& found) {
          if (error) return fail("no address of that name");
          stream_.expires_after(patience_);
          connect(found);
        });
    context_.run_for(patience_);
    if (!done_) return Failure{no_answer()};
    if (!problem_.empty()) return Failure{problem_};
    return PanelResponse{static_cast<int>(parser_.get().result_int()), parser_.get().body()};
  }

 private:
  [[nodiscard]] std::string no_answer() const { return "no answer within " + format_duration(patience_); }
  void fail(std::string problem) {
    problem_ = std::move(problem);
    done_ = true;
  }
  void connect(const asio::ip::tcp::resolver::results_type& found) {
    stream_.async_connect(found, [this](const error_code& error, const asio::ip::tcp::endpoint&) {
      if (error) return fail("nobody there (" + error.message() + ")");
      http::async_write(stream_, request_, [this](const error_code& broken, std::size_t) {
        // Whoever refuses may do so before he has read all; his answer is there all the same.
        (void)broken;
        read();
      });
    });
  }
  void read() {
    http::async_read(stream_, buffer_, parser_, [this](const error_code& error, std::size_t) {
      if (error == beast::error::timeout) return fail(no_answer());
      if (error) return fail("what is there is no panel, or it has just ended");
      done_ = true;
    });
  }

  Place place_;
  std::chrono::seconds patience_;
  asio::io_context context_{1};
  asio::ip::tcp::resolver resolver_{context_};
  beast::tcp_stream stream_{context_};
  http::request<http::string_body> request_;
  http::response_parser<http::string_body> parser_;
  beast::flat_buffer buffer_;
  std::string problem_;
  bool done_ = false;
};

}  // namespace

bool is_panel_url(const std::string& text) { return text.starts_with(kScheme); }

Result<PanelResponse, std::string> call_panel(const PanelCall& call) {
  auto place = place_of(call.url);
  if (!place) return Failure{call.url + ": expected the address of a panel, such as http://127.0.0.1:8710/"};
  try {
    // A thread of its own, since the end of a conversation waits for whoever looks the name up, and that may
    // take far longer than patience lasts.
    std::promise<Result<PanelResponse, std::string>> promise;
    auto answer = promise.get_future();
    std::thread([conversation = std::make_unique<Conversation>(call, std::move(*place)),
                 promise = std::move(promise)]() mutable {
      try {
        promise.set_value(conversation->run());
      } catch (...) {
        promise.set_exception(std::current_exception());
      }
    }).detach();
    auto response = answer.get();
    if (!response) return Failure{call.url + ": " + response.error()};
    return response;
  } catch (const std::exception&) {  // the libraries report no memory, no thread for a name, and the like
    return Failure{call.url + ": the system does not let a request be made"};
  }
}

}  // namespace emberline::io
