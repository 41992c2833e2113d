// The one way to Asio. Boost 1.74 uses std::exchange without including <utility>, so that with
// g++ 12 its header compiles only after this one. Nothing outside controller/host includes it.
#pragma once

#include <utility>
// <utility> comes first: see above.
#include <boost/asio.hpp>
