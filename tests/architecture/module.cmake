# add_module(NAME FOLDER dir [MAY_USE module...] [LIBRARIES target...])
#
# One target a folder. MAY_USE names the folders it may include; the architecture test compares the
# #include lines with it. Include paths start at the repository's root.
set_property(GLOBAL PROPERTY GLOBAL_DEPENDS_NO_CYCLES ON)

# When it optimises, GCC 12 takes a moved std::variant of vectors for uninitialised, and a vector's insert for
# one past its end. The sanitizer builds look for the real ones.
set(EMBERLINE_FALSE_ALARMS -Wno-maybe-uninitialized -Wno-array-bounds -Wno-stringop-overflow
                           -Wno-stringop-overread)

option(EMBERLINE_UNITY "Compile sources several at a time: a whole build takes half as long, one file more" OFF)

set(EMBERLINE_STANDARD_HEADERS <algorithm> <array> <chrono> <cmath> <cstdint> <functional> <map> <memory> <optional>
                               <span> <string> <string_view> <utility> <variant> <vector>)
# The sanitizer builds, and those with EMBERLINE_UNITY, read the standard library once instead of once a file, a good
# part of their time. A plain build does not, so that a missing #include is seen there, and because clang-tidy cannot
# read what GCC has precompiled.
function(emberline_standard_headers target)
  if(target MATCHES "_headers$")
    return()
  endif()
  set(headers standard_headers)
  if(target IN_LIST EMBERLINE_COMPUTING AND EMBERLINE_SANITIZE MATCHES address)
    set(headers optimised_headers)
    target_compile_options(${target} PRIVATE -O1)
  endif()
  if(NOT TARGET ${headers})
    file(WRITE ${CMAKE_BINARY_DIR}/${headers}.cpp "")
    add_library(${headers} OBJECT ${CMAKE_BINARY_DIR}/${headers}.cpp)
    target_precompile_headers(${headers} PRIVATE ${EMBERLINE_STANDARD_HEADERS})
    emberline_warnings(${headers})
    if(headers STREQUAL optimised_headers)
      target_compile_options(${headers} PRIVATE -O1)
    endif()
  endif()
  target_precompile_headers(${target} REUSE_FROM ${headers})
endfunction()

# Modules whose tests compute for long: under ASan they are optimised, a third of the time to run for half as much again
# to compile. Any other takes longer to optimise than it saves.
set(EMBERLINE_COMPUTING plant_electrical plant_thermal polling)

# What takes bytes from outside apart. The fuzzers compile it with another compiler, whose warnings do not count, and take
# the rest from a plain build.
set(EMBERLINE_FUZZED base modbus registers unit io_files io_tables)
function(emberline_fuzzing target)
  target_compile_options(${target} PRIVATE -w -O1 -gline-tables-only -fno-omit-frame-pointer -fno-sanitize-recover=all
                         -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize=null,vptr
                         -Xclang -fno-pch-timestamp)  # so that ccache can keep what uses the standard headers
  emberline_standard_headers(${target})
endfunction()

# Modules that know no thread and hold nothing that several threads look at: the bench they work on is another's. Under
# TSan they are taken from a plain build, where there is one, a third of what would be compiled for it.
set(EMBERLINE_WITHOUT_THREADS plant_materials plant_electrical plant_thermal faults polling io_files io_tables io_report)

# A plain build may be named for what need not be looked at: under TSan the modules above; else, for the fuzzers and for
# ASan in the short run, all but what takes bytes from outside apart. The long run's ASan looks at everything.
set(EMBERLINE_PLAIN "${EMBERLINE_FUZZ}${EMBERLINE_PLAIN_BUILD}")
set(EMBERLINE_FROM_PLAIN_BUILD "")  # grows as modules are added
function(emberline_from_plain_build name answer)
  set(taken OFF)
  if(EMBERLINE_PLAIN AND EMBERLINE_SANITIZE MATCHES thread)
    if(name IN_LIST EMBERLINE_WITHOUT_THREADS)
      set(taken ON)
    endif()
  elseif(EMBERLINE_PLAIN AND NOT name IN_LIST EMBERLINE_FUZZED)
    set(taken ON)
  endif()
  set(${answer} ${taken} PARENT_SCOPE)
endfunction()

# emberline_warnings(target [OF_TESTS]): OF_TESTS for what tests are made of. They have precompiled headers of their own. Under
# ASan and UBSan it is the program that is looked at: its tests are compiled as ever, half of a build's time. TSan has to
# see both sides.
function(emberline_warnings target)
  set(role "${ARGN}")
  if(EMBERLINE_FUZZ)
    emberline_fuzzing(${target})
    return()
  endif()
  # Where several sources are compiled as one, names of the others are in the way that are not when each stands alone.
  target_compile_options(${target} PRIVATE -Wall -Wextra -Wpedantic -Wconversion -Werror
                                           $<IF:$<BOOL:${EMBERLINE_UNITY}>,-Wshadow=local,-Wshadow>)
  if(CMAKE_CXX_COMPILER_ID STREQUAL GNU)
    target_compile_options(${target} PRIVATE "$<$<NOT:$<CONFIG:Debug>>:${EMBERLINE_FALSE_ALARMS}>")
  endif()
  if(EMBERLINE_SANITIZE)
    if(NOT role STREQUAL "OF_TESTS" OR EMBERLINE_SANITIZE MATCHES thread)
      target_compile_options(${target} PRIVATE -fsanitize=${EMBERLINE_SANITIZE} -fno-omit-frame-pointer
                                               -fno-sanitize-recover=all ${EMBERLINE_FALSE_ALARMS})
    endif()
    target_link_options(${target} PRIVATE -fsanitize=${EMBERLINE_SANITIZE})
    if(NOT EMBERLINE_SANITIZE MATCHES thread)
      target_link_options(${target} PRIVATE -no-pie)  # it starts in half the time, and tests start it a thousand times
    endif()
    if(EMBERLINE_SANITIZE MATCHES undefined AND NOT role STREQUAL "OF_TESTS")
      # A third of the time to compile goes into asking every pointer whether it is null; following one that
      # is ends the test anyway.
      target_compile_options(${target} PRIVATE -fno-sanitize=null)
    endif()
    if(EMBERLINE_SANITIZE MATCHES thread)
      target_compile_options(${target} PRIVATE -Wno-tsan)
    endif()
  endif()
  if((EMBERLINE_SANITIZE OR EMBERLINE_UNITY) AND NOT role STREQUAL "OF_TESTS")
    target_compile_options(${target} PRIVATE $<$<CXX_COMPILER_ID:GNU>:-fpch-preprocess>)  # for ccache
    emberline_standard_headers(${target})
  endif()
endfunction()

# emberline_together(target source...): where EMBERLINE_UNITY is on, several sources are compiled as one, since reading
# headers, and what they are templates for, is most of the work. Which of them go together is found out from their private
# names (unity.py), so nobody has to think of that who names something.
function(emberline_together target)
  if(NOT EMBERLINE_UNITY)
    return()
  endif()
  find_program(EMBERLINE_PYTHON python3 HINTS /usr/bin REQUIRED)
  set(alone "")  # what is compiled in a way of its own
  set(several "")
  foreach(file IN LISTS ARGN)
    get_source_file_property(defined ${file} COMPILE_DEFINITIONS)
    if(defined)
      list(APPEND alone ${file})
    else()
      list(APPEND several ${file})
    endif()
  endforeach()
  execute_process(COMMAND ${EMBERLINE_PYTHON} ${CMAKE_SOURCE_DIR}/tests/architecture/unity.py 6000 ${CMAKE_SOURCE_DIR}
                          ${CMAKE_BINARY_DIR}/together/${target} ${several}
                  OUTPUT_VARIABLE made COMMAND_ERROR_IS_FATAL ANY)
  string(REGEX MATCHALL "[^\n]+" made "${made}")
  set_target_properties(${target} PROPERTIES SOURCES "${made};${alone}")
  # A private type of a file that another includes, which here is every file.
  target_compile_options(${target} PRIVATE $<$<CXX_COMPILER_ID:GNU>:-Wno-subobject-linkage>)
endfunction()

function(add_module name)
  cmake_parse_arguments(M "" "FOLDER" "MAY_USE;LIBRARIES" ${ARGN})
  file(GLOB_RECURSE sources CONFIGURE_DEPENDS ${CMAKE_SOURCE_DIR}/${M_FOLDER}/*.cpp)
  list(FILTER sources EXCLUDE REGEX "/main\\.cpp$")
  set_property(GLOBAL APPEND PROPERTY EMBERLINE_MODULES ${name})
  set_property(GLOBAL PROPERTY EMBERLINE_FOLDER_${name} ${M_FOLDER})
  set_property(GLOBAL PROPERTY EMBERLINE_MAY_USE_${name} ${M_MAY_USE})
  emberline_from_plain_build(${name} taken)
  if(taken)
    add_library(${name} STATIC IMPORTED GLOBAL)
    set_target_properties(${name} PROPERTIES IMPORTED_LOCATION ${EMBERLINE_PLAIN}/lib${name}.a)
    target_include_directories(${name} INTERFACE ${CMAKE_SOURCE_DIR})
    target_link_libraries(${name} INTERFACE ${M_MAY_USE} ${M_LIBRARIES})
    set(EMBERLINE_FROM_PLAIN_BUILD ${EMBERLINE_FROM_PLAIN_BUILD} ${name} PARENT_SCOPE)
  elseif(sources)
    add_library(${name} STATIC ${sources})
    target_include_directories(${name} PUBLIC ${CMAKE_SOURCE_DIR})
    target_link_libraries(${name} PUBLIC ${M_MAY_USE} PRIVATE ${M_LIBRARIES})
    emberline_warnings(${name})
    emberline_together(${name} ${sources})
  else()
    add_library(${name} INTERFACE)
    target_include_directories(${name} INTERFACE ${CMAKE_SOURCE_DIR})
    target_link_libraries(${name} INTERFACE ${M_MAY_USE} ${M_LIBRARIES})
  endif()
endfunction()
