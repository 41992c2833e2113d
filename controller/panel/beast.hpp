// The one way to Beast, behind the one way to Asio: see controller/host/asio.hpp.
#pragma once

#include "controller/host/asio.hpp"
// Asio comes first.
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/websocket.hpp>
