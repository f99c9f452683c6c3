# Run by cpack before it packs: folders as everybody may read them, whatever the umask of whoever builds.
cmake_policy(SET CMP0009 NEW)  # no link is followed
file(GLOB_RECURSE places LIST_DIRECTORIES true "${CPACK_TEMPORARY_INSTALL_DIRECTORY}/*")
foreach(place IN LISTS places)
  if(IS_DIRECTORY "${place}" AND NOT IS_SYMLINK "${place}")
    file(CHMOD "${place}" PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
  endif()
endforeach()
