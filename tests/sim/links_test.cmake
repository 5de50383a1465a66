# Proves the promise of sim/: no graphics, no files, no clock. Reads the undefined symbols of the library.
# Usage: cmake -DNM=nm -DLIBRARY=libsim.a -P links_test.cmake
execute_process(COMMAND ${NM} --undefined-only --demangle ${LIBRARY} OUTPUT_VARIABLE symbols RESULT_VARIABLE status)
if(NOT status EQUAL 0 OR symbols STREQUAL "")
  message(FATAL_ERROR "cannot read ${LIBRARY}")
endif()
# glad_, gl*, SDL_, ImGui: graphics; fopen, open, fstream, filesystem: files; clock, pthread_create: time and threads
foreach(forbidden "SDL_" "ImGui" "glad_" "[^a-z_]gl[A-Z][A-Za-z]+[^a-z]" "cairo_" "[^a-zA-Z_]fopen" "[^a-zA-Z_]open64"
                  "basic_[io]?fstream" "basic_filebuf" "filesystem::" "chrono::" "clock_gettime" "gettimeofday"
                  "pthread_create" "std::thread")
  string(REGEX MATCH "[^\n]*${forbidden}[^\n]*" hit "${symbols}")
  if(hit)
    message(FATAL_ERROR "sim must not use this: ${hit}")
  endif()
endforeach()
