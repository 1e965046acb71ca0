// Package wire turns values of Go types into bytes and back, unexported fields too,
// so that what a stage of a run knows of a swimmer can lie in the cache, or travel to
// another machine, between one stage and the next.
//
// The bytes say nothing of the type: they are good for the program that made them, or
// one in which the type is the same to the last field. [Shape] tells types apart, and
// whoever keeps bytes keeps the shape with them.
//
// Every number comes back to the bit, NaN and -0 too. nil slices and maps come back
// nil, empty ones empty. Pointers are followed: what two of them share is written
// twice and shared no more. Interfaces, functions, channels, times and time zones
// cannot be written, and neither can types that lead back to themselves.
package wire
