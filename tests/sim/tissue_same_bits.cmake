# Runs the tissue of a patient in two fresh processes and compares what they print, digit by digit.
# Usage: cmake -DPK=pk -P tissue_same_bits.cmake
set(ask tissue posture --scenario skirt_the_artery --edge-mm 8 --set string_spacing_m=0.03 --json)
foreach(run first second)
  execute_process(COMMAND ${PK} ${ask} OUTPUT_VARIABLE ${run} RESULT_VARIABLE status)
  if(NOT status EQUAL 0 OR "${${run}}" STREQUAL "")
    message(FATAL_ERROR "pk ${ask}: ${status}")
  endif()
endforeach()
if(NOT first STREQUAL second)
  message(FATAL_ERROR "two runs differ:\n${first}\n${second}")
endif()
