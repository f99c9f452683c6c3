# Run by cpack when a package is there: its three members with the rights of any other package's, which would else be
# those that the umask of whoever builds has left.
set(order debian-binary control.tar.gz data.tar.gz)
foreach(package IN LISTS CPACK_PACKAGE_FILES)
  set(place "${package}.members")
  file(REMOVE_RECURSE "${place}")
  file(MAKE_DIRECTORY "${place}")
  execute_process(COMMAND "${CPACK_EMBERLINE_AR}" x "${package}" WORKING_DIRECTORY "${place}" RESULT_VARIABLE taken_apart)
  file(REMOVE "${package}")
  # D: owner, time and rights are 0, 0 and 644 for all; S: no index, which is for archives of objects.
  execute_process(COMMAND "${CPACK_EMBERLINE_AR}" qcSD "${package}" ${order} WORKING_DIRECTORY "${place}"
    RESULT_VARIABLE put_together)
  file(REMOVE_RECURSE "${place}")
  if(NOT taken_apart EQUAL 0 OR NOT put_together EQUAL 0)
    message(FATAL_ERROR "${package}: its members could not be put together again by ${CPACK_EMBERLINE_AR}")
  endif()
endforeach()
