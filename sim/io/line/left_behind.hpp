#pragma once

#include <string>

namespace emberline::io {

// What this process has put into the file system and nobody must find when it is gone: links to terminals,
// the control socket, the ready file. Noted here so that a crash can take it away, where no destructor runs.

/// Notes what stands at `path` now (a link itself, not what it leads to) as ours; a note of the same path is
/// replaced. Nothing is noted if nothing stands there, or if very many are noted already (4096). Callable
/// from any thread.
void note_left_behind(const std::string& path);

/// Forgets the note of `path`, if there is one. Callable from any thread.
void forget_left_behind(const std::string& path);

/// Removes what is noted of `path` if it is still ours, and forgets the note: the way a file goes when
/// nothing has crashed. Callable from any thread.
void remove_noted(const std::string& path);

/// Removes what is noted and still ours: the same file by device, number and time of its last change, a link
/// only if it also leads where it did. What somebody else has put in its place stays. Made for the handler of
/// a signal: calls lstat(), readlink() and unlink() only, which POSIX.1-2017, 2.4.3, lets such a handler
/// call; it takes no lock and no memory.
void remove_left_behind() noexcept;

}  // namespace emberline::io
