//go:build linux || darwin

package main

import "syscall"

// private sees to it that what this process makes is for its user alone, also
// in a folder that others can read.
func private() { syscall.Umask(0o077) }

// freeSpace gives the bytes that this user may still write in a folder.
func freeSpace(dir string) (int64, bool) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil {
		return 0, false
	}
	return int64(st.Bavail * uint64(st.Bsize)), true
}
