// From a request to its answer: the gatekeeper first, then the page's files, then the services.
//
//   GET  /, /assets/...        the page
//   POST /api/enter            {"token"} -> a cookie, and the key that later POSTs repeat
//   GET  /api/state            all that a page must know
//   GET  /api/look_up/WHAT     a question that changes nothing
//   POST /api/look_up/WHAT     the same with an object to say how
//   GET  /document/NAME        a report, shut off from this page
//   POST /api/act/WHAT         something done; the operator alone
//   POST /api/operator         {"take": true|false}
//   POST /api/stop             anyone, any time
//
// One thread. What is passed in must outlive the router.
#pragma once

#include <span>

#include "controller/panel/gatekeeper.hpp"
#include "controller/panel/operator_seat.hpp"
#include "controller/panel/page_files.hpp"
#include "controller/panel/services.hpp"

namespace controller::panel {

class Router {
 public:
  Router(Gatekeeper& gatekeeper, OperatorSeat& seat, Services& services,
         std::span<const PageFile> files)
      : gatekeeper_(gatekeeper), seat_(seat), services_(services), files_(files) {}

  WebAnswer answer(const WebRequest& request, OperatorSeat::Time now);

 private:
  WebAnswer answer_post(const WebRequest& request, const std::string& page, OperatorSeat::Time now);
  WebAnswer answer_get(const WebRequest& request);
  WebAnswer document(const std::string& name);
  WebAnswer enter(const Json& said, const std::optional<std::string>& cookie);
  WebAnswer take_seat(const Json& said, const std::string& page, OperatorSeat::Time now);
  WebAnswer act(const std::string& what, const Json& how, const std::string& page);

  Gatekeeper& gatekeeper_;
  OperatorSeat& seat_;
  Services& services_;
  std::span<const PageFile> files_;
};

// Headers that every answer carries: no foreign script, frame or connection, and nothing kept.
const std::vector<std::pair<std::string, std::string>>& guarding_headers();

}  // namespace controller::panel
