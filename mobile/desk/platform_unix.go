//go:build linux || darwin

package main

import (
	"io/fs"
	"syscall"
)

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

// fileNumber gives the number of a file within its file system.
func fileNumber(info fs.FileInfo) (uint64, bool) {
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return st.Ino, true
}
