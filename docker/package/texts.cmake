# Asks the program for its manual and completions, says what it consists of, and installs all of that. The variables
# `program`, `version`, `headers` and `sources` are set before.
set(root "$ENV{DESTDIR}${CMAKE_INSTALL_PREFIX}")
set(readable OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)

function(put where text)
  message(STATUS "Writing: ${root}/${where}")
  file(WRITE "${root}/${where}" "${text}")
  file(CHMOD "${root}/${where}" PERMISSIONS ${readable})
endfunction()

foreach(text IN ITEMS "share/man/man1/emberline.1;man"
                      "share/bash-completion/completions/emberline;completion;bash"
                      "share/zsh/vendor-completions/_emberline;completion;zsh"
                      "share/fish/vendor_completions.d/emberline.fish;completion;fish")
  list(POP_FRONT text where)
  execute_process(COMMAND "${program}" ${text} OUTPUT_VARIABLE said COMMAND_ERROR_IS_FATAL ANY)
  put("${where}" "${said}")
endforeach()

# Manual pages are compressed, as well as it goes and without a time in it (Debian Policy, section 12.1).
find_program(gzip gzip)
if(gzip)
  execute_process(COMMAND "${gzip}" -9nf "${root}/share/man/man1/emberline.1" COMMAND_ERROR_IS_FATAL ANY)
endif()

# Where people look for a README and for examples (Debian Policy, sections 12.6 and 12.3), with the folders these files
# expect around them.
file(MAKE_DIRECTORY "${root}/share/doc/emberline")
file(CREATE_LINK ../../emberline "${root}/share/doc/emberline/examples" SYMBOLIC)
file(CREATE_LINK ../../emberline/README.md "${root}/share/doc/emberline/README.md" SYMBOLIC)

# The page of the panel contains a library of others; its version stands in the first line of its README.
set(vendored "${sources}/sim/io/panel/page/vendor")
file(STRINGS "${vendored}/README.md" first LIMIT_COUNT 1 REGEX "^# .+ [0-9.]+$")
string(REGEX MATCH "^# (.+) ([0-9.]+)$" first "${first}")
set(library "${CMAKE_MATCH_1}")
set(library_version "${CMAKE_MATCH_2}")
string(TOLOWER "${library}" registered)
file(READ "${sources}/LICENSE" own)
file(READ "${vendored}/LICENSE" theirs)
set(copyright "Emberline\n\n${own}\n\n${library} ${library_version}, part of the panel's page\n\n${theirs}")

# And the program contains what its headers bring: the words of those that ask for it in binaries too. (Boost's licence
# and {fmt}'s leave machine code free of that.)
foreach(one IN ITEMS "CLI11;libcli11-dev;BSD-3-Clause" "spdlog;libspdlog-dev;MIT" "yaml-cpp;libyaml-cpp-dev;MIT")
  list(GET one 0 name)
  list(GET one 1 package)
  list(GET one 2 licence)
  set(terms "/usr/share/doc/${package}/copyright")
  if(EXISTS "${terms}")
    file(READ "${terms}" words)
  else()
    message(WARNING "${terms} is not there: whoever hands on what is installed here has to add the licence of ${name}")
    set(words "${licence}; the words stand with its sources.\n")
  endif()
  string(APPEND copyright "\n\n${name}, headers of which are compiled in\n\n${words}")
endforeach()
put(share/doc/emberline/copyright "${copyright}")

set(arguments "${root}/bin/emberline" "${version}")  # as it is installed, stripped or not
foreach(header IN LISTS headers)
  list(APPEND arguments --header "${header}")
endforeach()
execute_process(COMMAND "${sources}/docker/package/sbom.sh" ${arguments}
                        --vendored "${library}:${library_version}:MIT:pkg:npm/${registered}@${library_version}"
                OUTPUT_VARIABLE said COMMAND_ERROR_IS_FATAL ANY)
put(share/emberline/sbom.spdx.json "${said}")
