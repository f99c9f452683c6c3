# The page's files become part of the program: nothing is read from a disk when it runs. Included after the module
# io_panel; run with -P it writes the source that holds them:
#   cmake -DPANEL=sim/io/panel -DOUTPUT=panel_assets.cpp -P assets.cmake
function(panel_asset_files folder result)
  file(GLOB_RECURSE files ${ARGN} ${folder}/page/*)
  list(FILTER files EXCLUDE REGEX "/\\.|/node_modules/|\\.md$|/LICENSE$")
  if(EXISTS ${folder}/openapi.json)
    list(APPEND files ${folder}/openapi.json)
  endif()
  list(SORT files)
  set(${result} ${files} PARENT_SCOPE)
endfunction()

function(panel_media_type file result)
  set(types .html=text/html .css=text/css .js=text/javascript .mjs=text/javascript .svg=image/svg+xml
            .json=application/json .txt=text/plain .woff2=font/woff2)
  cmake_path(GET file EXTENSION LAST_ONLY extension)
  foreach(type IN LISTS types)
    if(type MATCHES "^(\\.[a-z0-9]+)=(.*)$" AND CMAKE_MATCH_1 STREQUAL extension)
      set(type ${CMAKE_MATCH_2})
      if(type MATCHES "^text/")
        string(APPEND type "; charset=utf-8")
      endif()
      set(${result} "${type}" PARENT_SCOPE)
      return()
    endif()
  endforeach()
  message(FATAL_ERROR "${file}: no media type is known for '${extension}'; expected html, css, js, svg, json, txt or woff2")
endfunction()

# One source that takes the files in as they are (the assembler's .incbin: bytes in a source would take a compiler
# minutes). Their hashes stand in it, so that ccache sees when one has changed.
function(panel_write_assets folder output)
  panel_asset_files(${folder} files)
  set(declared "")
  set(listed "")
  set(number 0)
  foreach(file IN LISTS files)
    string(REPLACE "${folder}/page/" "/" path "${file}")
    string(REPLACE "${folder}/openapi.json" "/api/openapi.json" path "${path}")
    panel_media_type("${file}" type)
    file(SHA256 "${file}" hash)
    set(name emberline_panel_asset_${number})
    string(APPEND declared
      "__asm__(\".section .rodata\\n# ${hash}\\n${name}: .incbin \\\"${file}\\\"\\n${name}_end: .byte 0\\n.previous\\n\");\n"
      "extern \"C\" const char ${name}[];\nextern \"C\" const char ${name}_end[];\n")
    string(APPEND listed "      {\"${path}\", \"${type}\", text(${name}, ${name}_end)},\n")
    math(EXPR number "${number} + 1")
  endforeach()
  file(WRITE ${output} "// Written by sim/io/panel/assets.cmake from the files it names.
#include <array>
#include <cstddef>

#include \"sim/io/panel/assets.hpp\"

${declared}
namespace emberline::io {

std::span<const Asset> all_assets() {
  const auto text = [](const char* begin, const char* end) {
    return std::string_view(begin, static_cast<std::size_t>(end - begin));
  };
  static const std::array<Asset, ${number}> kAssets{{
${listed}  }};
  return kAssets;
}

}  // namespace emberline::io
")
endfunction()

if(CMAKE_SCRIPT_MODE_FILE)
  panel_write_assets(${PANEL} ${OUTPUT})
  return()
endif()

set(panel ${CMAKE_CURRENT_LIST_DIR})
panel_asset_files(${panel} panel_files CONFIGURE_DEPENDS)
add_custom_command(
  OUTPUT ${CMAKE_BINARY_DIR}/panel_assets.cpp
  COMMAND ${CMAKE_COMMAND} -DPANEL=${panel} -DOUTPUT=${CMAKE_BINARY_DIR}/panel_assets.cpp -P ${panel}/assets.cmake
  DEPENDS ${panel}/assets.cmake ${panel_files}
  COMMENT "Taking in the page's files")
target_sources(io_panel PRIVATE ${CMAKE_BINARY_DIR}/panel_assets.cpp)
set_source_files_properties(${CMAKE_BINARY_DIR}/panel_assets.cpp PROPERTIES SKIP_PRECOMPILE_HEADERS ON)

# Half of a sanitized build went into these two: what is a library's in them is looked at nowhere else either, and what
# is ours in them is thin. The thread sanitizer has to see them.
if(EMBERLINE_SANITIZE AND NOT EMBERLINE_SANITIZE MATCHES thread)
  set_source_files_properties(${panel}/panel_server.cpp ${panel}/http_client.cpp PROPERTIES
    COMPILE_OPTIONS "-fno-sanitize=all" SKIP_PRECOMPILE_HEADERS ON)
endif()
