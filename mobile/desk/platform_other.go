//go:build !linux && !darwin

package main

// private does nothing here: the folder of the user's own data is closed to
// others by the system.
func private() {}

// freeSpace is not known here: the companion gives no early warning of a full
// disk.
func freeSpace(string) (int64, bool) { return 0, false }
