// Package store keeps the lines of every log, and the files that they name,
// on the device: an SQLite database and a folder of blobs. It is the only
// package that knows SQL.
//
// A line is committed and on disk before Append answers; that costs one sync.
// What was answered is never lost by a process that dies. Against a power cut
// the store leans on the system's promise that a synced write is kept: tests
// that kill processes cannot show that, and none here claims to.
//
// Two devices merge by union. Lines are kept byte for byte, also those that
// claim a number that another line claims, and corrections whose root is not
// here. The one thing that is ever taken away is a private part, when an event
// of the kind destroyed says so: its bytes are overwritten in the database,
// the write-ahead log is emptied, and a later merge does not bring it back.
//
// Once a clinic has set up sealing, private parts lie sealed, with a key for
// each thing that lines are about; see package sealing. A key that is kept for
// this device opens without asking anybody, one that was parted from opens with
// the clinic's identity alone, which the store has while it is unlocked. A line
// whose private part cannot be opened says that it is sealed; it is appended
// to, merged, exported without its private part and destroyed like any other.
//
// A log is opened by the first line that is written to it, not by opening the
// folder, so that a folder that only takes in what others wrote says nothing
// of its own. A database that turns out to be a copy, or an older state of
// itself, opens a new log that cites the head of the old one. It cannot find
// that out alone: see Options.Installation and Witness, which lie outside the
// folder.
//
// Beside the lines lie a few tables that can be thrown away: which cases there
// are and when they were last touched, and settings of this device.
//
// The folder:
//
//	lock          held while a companion serves the folder
//	chinlift.db   the database, with -wal and -shm beside it
//	blobs/ab/ab…  files, named by their SHA-256
//	reserve       room that is given up when the disk is full, so that the
//	              case on the table can be finished
//
// Sizes, limits and waits in this package are house choices without a source.
package store
