# What `cmake --install` puts where, and `cpack -G DEB` into a package. Not for the sanitizer and fuzzer builds.
include(GNUInstallDirs)

install(TARGETS emberline RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
# Together, as in the sources, so that the links between them lead somewhere; `texts.cmake` links to the README.
install(FILES ${CMAKE_SOURCE_DIR}/README.md ${CMAKE_SOURCE_DIR}/DEVELOPERS.md
        DESTINATION ${CMAKE_INSTALL_DATADIR}/emberline)
install(DIRECTORY ${CMAKE_SOURCE_DIR}/config ${CMAKE_SOURCE_DIR}/scenarios DESTINATION ${CMAKE_INSTALL_DATADIR}/emberline
        PATTERN "demo.sh" EXCLUDE)
install(FILES ${CMAKE_SOURCE_DIR}/plant-models/README.md DESTINATION ${CMAKE_INSTALL_DATADIR}/emberline/plant-models)
set(deployments README.md Dockerfile compose.yaml rehearse-job.yaml ci-workflow.yml serial-workflow.yml)
list(TRANSFORM deployments PREPEND ${CMAKE_SOURCE_DIR}/docker/)
install(FILES ${deployments} DESTINATION ${CMAKE_INSTALL_DATADIR}/emberline/docker)
install(FILES ${CMAKE_CURRENT_LIST_DIR}/emberline@.service DESTINATION lib/systemd/system)

# The manual and the completions are the program's own words: it is asked for them. What it consists of is read from it.
get_target_property(cli11_include CLI11::CLI11 INTERFACE_INCLUDE_DIRECTORIES)
find_file(EMBERLINE_CLI11_HEADER CLI/CLI.hpp HINTS ${cli11_include} REQUIRED)
find_file(EMBERLINE_BOOST_HEADER boost/version.hpp HINTS ${Boost_INCLUDE_DIRS} REQUIRED)
mark_as_advanced(EMBERLINE_CLI11_HEADER EMBERLINE_BOOST_HEADER)
install(CODE "
  set(program \"$<TARGET_FILE:emberline>\")
  set(version \"${PROJECT_VERSION}\")
  set(headers \"${EMBERLINE_BOOST_HEADER};${EMBERLINE_CLI11_HEADER}\")
  set(sources \"${CMAKE_SOURCE_DIR}\")")
install(SCRIPT ${CMAKE_CURRENT_LIST_DIR}/texts.cmake)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME emberline)
set(CPACK_PACKAGE_VENDOR "The Emberline project")
set(CPACK_PACKAGE_CONTACT "The Emberline project <emberline@example.org>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_PROJECT_CONFIG_FILE ${CMAKE_CURRENT_LIST_DIR}/time.cmake)       # these three, so that it repeats to the byte
set(CPACK_PRE_BUILD_SCRIPTS ${CMAKE_CURRENT_LIST_DIR}/permissions.cmake)
set(CPACK_POST_BUILD_SCRIPTS ${CMAKE_CURRENT_LIST_DIR}/members.cmake)
set(CPACK_EMBERLINE_AR ${CMAKE_AR})
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION electronics)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${CMAKE_CURRENT_LIST_DIR}/postinst ${CMAKE_CURRENT_LIST_DIR}/prerm
    ${CMAKE_CURRENT_LIST_DIR}/postrm)
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)  # the libraries by the names this release of Debian has for them
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION "A bench of thyristor power controllers that exist only in software: they answer
in Modbus over pseudo-terminals, serial ports and TCP, feed a modelled plant, and
can be broken in any way a scenario asks for, which then judges what the PLC did.
A simulation: passing a rehearsal is no safety validation.")
include(CPack)
