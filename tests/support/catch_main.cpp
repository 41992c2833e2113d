// The one translation unit that carries Catch's main.
#define CATCH_CONFIG_MAIN
#include <catch2/catch.hpp>
