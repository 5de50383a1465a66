// Nothing but the headers that all tests read: see pk_precompile().
#include <catch2/catch.hpp>
