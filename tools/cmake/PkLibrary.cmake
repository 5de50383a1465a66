# One place for how every target of this project is compiled, and how a folder of sources becomes a library.

# -ffp-contract=off: a fused multiply-add rounds once where two operations round twice, so results would hang on the
# compiler's choice. No -march=native and no fast-math for the same reason.
function(pk_compile_options target)
  target_compile_options(${target} PRIVATE
    $<$<COMPILE_LANGUAGE:CXX>:-Wall -Wextra -Wpedantic -Wconversion -Wsign-conversion -Wshadow -Wold-style-cast
      -Wdouble-promotion -Wnon-virtual-dtor -Woverloaded-virtual -Werror>)
  if(PK_SANITIZE)
    target_compile_options(${target} PUBLIC -fsanitize=address,undefined -fno-sanitize-recover=undefined
                                            -fno-omit-frame-pointer)
    target_link_options(${target} PUBLIC -fsanitize=address,undefined)
    # with sanitizers g++ 12 takes inactive members of std::variant and of std::function in std::regex for uninitialised
    target_compile_options(${target} PRIVATE -Wno-maybe-uninitialized)
  endif()
  target_compile_options(${target} PUBLIC -ffp-contract=off)
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
  add_test(NAME ${name} COMMAND ${name} WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  add_test(NAME ${name}_slow COMMAND ${name} "[.slow]" WORKING_DIRECTORY ${CMAKE_SOURCE_DIR})
  set_tests_properties(${name}_slow PROPERTIES LABELS slow)
endfunction()
