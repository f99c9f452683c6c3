# What `--version --verbose` tells of this build; one file knows it, so that little is compiled anew when it changes.
# No flag with a path: two builds of the same sources are the same, and where they were made is nobody's business.
string(TOUPPER "${CMAKE_BUILD_TYPE}" kind)
set(compiled "${CMAKE_CXX_FLAGS} ${CMAKE_CXX_FLAGS_${kind}}")
set(linked "${CMAKE_EXE_LINKER_FLAGS} ${CMAKE_EXE_LINKER_FLAGS_${kind}}")
foreach(flags compiled linked)
  separate_arguments(${flags} UNIX_COMMAND "${${flags}}")
  list(FILTER ${flags} EXCLUDE REGEX "/")
  list(JOIN ${flags} " " ${flags})
endforeach()
set_source_files_properties(sim/cli/version_text.cpp PROPERTIES COMPILE_DEFINITIONS
  "EMBERLINE_BUILD_TYPE=\"${CMAKE_BUILD_TYPE}\";EMBERLINE_COMPILE_FLAGS=\"${compiled}\";\
EMBERLINE_LINK_FLAGS=\"${linked}\";EMBERLINE_SANITIZERS=\"${EMBERLINE_SANITIZE}\";\
EMBERLINE_YAML_CPP=\"${yaml-cpp_VERSION}\";EMBERLINE_LIBMD=\"${md_VERSION}\"")
