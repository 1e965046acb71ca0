// Package cache keeps bytes that can be made again, so that a run need not make
// them again. It knows files and bytes, not swimming.
//
// A Store is a folder. Bytes lie in segments: files that are written once, named
// by the hash of what is in them and never changed. A manifest names the
// segments that count, with what they were made for; it is written last and put
// in place by one rename, so that whatever a killed process leaves behind is
// unnamed and counts for nothing. Several manifests may share a folder, one for
// each shard of a run on many machines.
//
// Every record is checked against its checksum when it is read. What is missing
// or damaged comes back as ErrMissing or as a DamagedError, both of which mean
// "make it again": a cache must never change a result.
//
// A folder may hold heart rates under pseudonyms: it is made for its owner alone
// (0700, files 0600), and carries the tag by which backup programs know a cache
// (https://bford.info/cachedir/).
package cache
