// What the live page can ask of the program. The page and its server know nothing else of it: the
// command line implements this over host, calibration and fitting, so that no logic of a sweep or a
// calibration is written a second time for the page.
//
// Called from the server's thread, one call at a time, and each call returns soon: what takes time
// goes on elsewhere and shows in the state that is published.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

#include "protocol/record/json_fields.hpp"
#include "protocol/result.hpp"

namespace controller::panel {

using protocol::Json;

class Services {
 public:
  virtual ~Services() = default;

  // All that a page must know to draw itself when it opens.
  virtual Json state() = 0;
  // Looks something up and changes nothing: anyone who may see the page. ERRORS: usage where there
  // is no such thing; its own.
  virtual protocol::Result<Json> look_up(const std::string& what, const Json& how) = 0;
  // A page of the workshop's own making, such as a report, as HTML. ERRORS: usage where there is
  // none.
  virtual protocol::Result<std::string> document(const std::string& name) = 0;
  // Does something: the one operator alone. ERRORS: as look_up.
  virtual protocol::Result<Json> act(const std::string& what, const Json& how) = 0;
  // From anyone, at any time. Never fails.
  virtual void stop() = 0;
  // The operator's page has gone or fallen silent: whatever moves must end.
  virtual void operator_lost() = 0;
};

}  // namespace controller::panel
