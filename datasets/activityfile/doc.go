// Package activityfile writes simulated pool sessions as activity files in the
// published FIT protocol, well-formed or with the quirks that real recorders
// show, one switch a quirk.
//
// An [Activity] is what a recorder knows of a session; [FromSession] makes one
// from a simulated session, the fault functions ([MissedTurn] and its kin) spoil
// it as recorders do, and [Write] encodes it. Messages are encoded with
// github.com/muktihari/fit; headers and checksums that this library will not
// write are patched by hand afterwards.
//
// Two activities chained in one file are two calls of [Write] on one writer.
package activityfile
