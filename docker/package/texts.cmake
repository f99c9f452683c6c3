# Asks the program (variable `program`) for its manual and its completions, and installs them.
foreach(text IN ITEMS "share/man/man1/emberline.1;man"
                      "share/bash-completion/completions/emberline;completion;bash"
                      "share/zsh/vendor-completions/_emberline;completion;zsh"
                      "share/fish/vendor_completions.d/emberline.fish;completion;fish")
  list(POP_FRONT text where)
  execute_process(COMMAND "${program}" ${text} OUTPUT_VARIABLE said COMMAND_ERROR_IS_FATAL ANY)
  set(place "$ENV{DESTDIR}${CMAKE_INSTALL_PREFIX}/${where}")
  message(STATUS "Writing: ${place}")
  file(WRITE "${place}" "${said}")
endforeach()
