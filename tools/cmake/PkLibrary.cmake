# One place for how every target of this project is compiled, and how a folder of sources becomes a library.

# -ffp-contract=off: a fused multiply-add rounds once where two operations round twice, so results would hang on the
# compiler's choice. No -march=native and no fast-math for the same reason.
#
# pk_compile_options(target [PROGRAM]): PROGRAM says that no test runs it under the sanitizers of tools/test --all, see
# PK_PROGRAMS_COMPILED_ONLY.
option(PK_LIBFUZZER "with clang and PK_SANITIZE: note what code inputs reach, and build pk_guided_fuzz" OFF)
option(PK_PROGRAMS_COMPILED_ONLY "with PK_SANITIZE: compile programs for their warnings alone, without sanitizers" OFF)
set(PK_COMPILED_ONLY records gl app)  # libraries that are treated like programs
function(pk_compile_options target)
  cmake_parse_arguments(ARG "PROGRAM" "" "" ${ARGN})
  target_compile_options(${target} PRIVATE
    $<$<COMPILE_LANGUAGE:CXX>:-Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow -Wold-style-cast
      -Wdouble-promotion -Wnon-virtual-dtor -Woverloaded-virtual -Werror>)
  if(PK_LIBFUZZER)
    target_compile_options(${target} PRIVATE -fsanitize=fuzzer-no-link)
  endif()
  if(PK_SANITIZE)
    target_link_options(${target} PUBLIC -fsanitize=address,undefined)
    if(PK_PROGRAMS_COMPILED_ONLY AND (ARG_PROGRAM OR target IN_LIST PK_COMPILED_ONLY))
      target_compile_options(${target} PRIVATE -O0)
    else()
      target_compile_options(${target} PRIVATE -fsanitize=address,undefined -fno-sanitize-recover=undefined
                                               -fno-omit-frame-pointer)
    endif()
  endif()
  target_compile_options(${target} PUBLIC -ffp-contract=off)
endfunction()

# Headers that most files read, compiled once and not once a file: for clang++ with the sanitizers. The builds with g++
# that people use go without, so that a file that forgets an include is found, and since g++ 12 warns falsely of strings
# that come from such a header.
option(PK_PRECOMPILE "compile common headers once" OFF)
set(PK_STANDARD_HEADERS <algorithm> <array> <cmath> <cstdint> <functional> <limits> <map> <memory> <optional> <span>
    <string> <string_view> <utility> <variant> <vector> <glm/glm.hpp>)
set(PK_ENGINE_HEADERS ${PK_STANDARD_HEADERS} <chrono> <filesystem> <fstream> <fmt/format.h> <nlohmann/json.hpp>)

if(PK_PRECOMPILE)
  # what SDL2 and threads ask of some targets: a header compiled without it could not be reused in them
  add_compile_options(-pthread)
endif()

# pk_precompile(target [REUSE_FROM other] [headers...])
function(pk_precompile target)
  if(PK_PRECOMPILE)
    cmake_parse_arguments(ARG "" "REUSE_FROM" "" ${ARGN})
    if(ARG_REUSE_FROM)
      target_precompile_headers(${target} REUSE_FROM ${ARG_REUSE_FROM})
    else()
      target_precompile_headers(${target} PRIVATE ${ARG_UNPARSED_ARGUMENTS})
    endif()
  endif()
endfunction()

# pk_library(name folder DEPENDS targets...): a static library of every .cpp below the folder.
function(pk_library name folder)
  cmake_parse_arguments(ARG "" "" "DEPENDS" ${ARGN})
  file(GLOB_RECURSE sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/${folder}/*.cpp)
  if(NOT sources)
    add_library(${name} INTERFACE)
    target_include_directories(${name} INTERFACE ${CMAKE_SOURCE_DIR})
    target_link_libraries(${name} INTERFACE ${ARG_DEPENDS})
    return()
  endif()
  add_library(${name} STATIC ${sources})
  target_include_directories(${name} PUBLIC ${CMAKE_SOURCE_DIR})
  target_link_libraries(${name} PUBLIC ${ARG_DEPENDS})
  pk_compile_options(${name})
  if(name MATCHES "^(sim|statistics)$")
    pk_precompile(${name} ${PK_STANDARD_HEADERS})
  elseif(name STREQUAL "files")
    pk_precompile(${name} ${PK_ENGINE_HEADERS})
  elseif(PK_PROGRAMS_COMPILED_ONLY AND name IN_LIST PK_COMPILED_ONLY)
    pk_precompile(${name} REUSE_FROM program_headers)
  else()
    pk_precompile(${name} REUSE_FROM files)
  endif()
endfunction()

# pk_program(name): what a program that is no test is compiled with.
function(pk_program name)
  pk_compile_options(${name} PROGRAM)
  if(PK_PROGRAMS_COMPILED_ONLY)
    pk_precompile(${name} REUSE_FROM program_headers)
  else()
    pk_precompile(${name} REUSE_FROM files)
  endif()
endfunction()

# pk_test(name folder DEPENDS targets...): a Catch2 program of every .cpp below the folder. Tests tagged [.slow] form a
# second ctest entry with the label "slow", which only tools/test --all runs.
function(pk_test name folder)
  cmake_parse_arguments(ARG "" "" "DEPENDS" ${ARGN})
  file(GLOB_RECURSE sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/tests/${folder}/*.cpp)
  if(NOT sources)
    return()
  endif()
  add_executable(${name} ${sources})
  target_link_libraries(${name} PRIVATE test_main ${ARG_DEPENDS})
  pk_compile_options(${name})
  pk_precompile(${name} REUSE_FROM test_main)
  if(NOT PK_SANITIZE)
    # most of a test's time goes into compiling it
    target_compile_options(${name} PRIVATE -O1)
  endif()
  add_test(NAME ${name} COMMAND ${name} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  add_test(NAME ${name}_slow COMMAND ${name} "[.slow]" WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  set_tests_properties(${name}_slow PROPERTIES LABELS slow)
endfunction()
