# What a build for use is armed with against mistakes in a program that strangers send bytes to. It goes with Release
# and RelWithDebInfo: a Debug build is there to be compiled quickly, the sanitizer builds look closer than all this.
#
#   _GLIBCXX_ASSERTIONS   an index past the end of a vector ends the program, it does not read on
#   _FORTIFY_SOURCE       the same for memcpy and its kind, where the compiler knows the size
#   stack protector, stack clash, control flow: what GCC offers against an overwritten or overrun stack
#   PIE, RELRO, BIND_NOW: loaded at a random address; its tables of functions are read-only before main() begins
set(EMBERLINE_HARDENING -D_GLIBCXX_ASSERTIONS -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2 -fstack-protector-strong
                        -fstack-clash-protection -fPIE)
if(CMAKE_SYSTEM_PROCESSOR MATCHES "x86_64|AMD64")
  list(APPEND EMBERLINE_HARDENING -fcf-protection)
endif()
# And no path of the machine it was made on, as assert() would tell one: two builds in two folders give the same bytes.
# Twice, since ccache may hand the compiler relative paths.
list(APPEND EMBERLINE_HARDENING "\"-ffile-prefix-map=${CMAKE_SOURCE_DIR}/=\"")
file(RELATIVE_PATH there ${CMAKE_BINARY_DIR} ${CMAKE_SOURCE_DIR})
if(there)
  list(APPEND EMBERLINE_HARDENING "\"-ffile-prefix-map=${there}/=\"")
endif()
list(JOIN EMBERLINE_HARDENING " " flags)
foreach(kind RELEASE RELWITHDEBINFO)
  string(APPEND CMAKE_CXX_FLAGS_${kind} " ${flags}")
  string(APPEND CMAKE_EXE_LINKER_FLAGS_${kind} " -pie -Wl,-z,relro,-z,now,-z,noexecstack")
endforeach()
