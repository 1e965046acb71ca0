// Package localpage is the local page: the program's commands for people who
// do not use a terminal. It serves one study's folder to the browser of the
// same machine and does nothing that the commands do not do: files are dropped
// into the folder, what init proposes is completed in forms and written as the
// study's own files, check and run are called, and the pages that run wrote are
// read.
//
// Who may ask. The server listens on the loopback interface alone. Every
// request needs the token that the program printed when it began: the first
// visit brings it in the address, trades it for a cookie and is sent on to an
// address without it. A request whose Host is not the loopback address is
// refused, so that a foreign name that was made to point here (DNS rebinding)
// gets nothing; one that changes something must come from the page itself
// (Origin). Pages may load from this server alone.
package localpage
