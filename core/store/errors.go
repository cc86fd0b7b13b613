package store

import (
	"errors"
	"fmt"
	"syscall"
)

// What a caller can tell apart with errors.Is.
var (
	ErrInUse     = errors.New("another companion is running on this folder")
	ErrSuspended = errors.New("the store is asleep")
	ErrReadOnly  = errors.New("the store was opened for reading only")
	ErrClosed    = errors.New("the store is closed")
)

// The codes of an Error.
const (
	CodeDiskFull = "disk-full" // no room, and the reserve is spent
	CodeIO       = "io"        // the disk answered with an error, or cannot be written or opened
	CodeDamaged  = "damaged"   // what is stored is not what was written
	CodeBusy     = "busy"      // somebody else held the database for too long
	CodeMissing  = "missing"   // there is no database in the folder
	CodeNewer    = "newer"     // a newer version of the companion wrote the database
	CodeOlder    = "older"     // the database must first be opened for writing, once
	CodeFailed   = "failed"    // a fault of the companion itself
)

// Error is a failure of the device, by code. What was stored before still is.
// Nothing of what was being written is, but for a destruction that answers
// CodeBusy: see Append.
type Error struct {
	Code string
	Op   string
	Err  error
}

func (e *Error) Error() string { return fmt.Sprintf("%s: %s: %v", e.Op, e.Code, e.Err) }

func (e *Error) Unwrap() error { return e.Err }

// fault wraps a failure of the database or the file system; other errors pass.
func fault(op string, err error) error {
	if err == nil {
		return nil
	}
	var own *Error
	if errors.As(err, &own) {
		return err
	}
	if code := codeOf(err); code != "" {
		return &Error{code, op, err}
	}
	var errno syscall.Errno
	if errors.As(err, &errno) {
		if errno == syscall.ENOSPC || errno == syscall.EDQUOT {
			return &Error{CodeDiskFull, op, err}
		}
		return &Error{CodeIO, op, err}
	}
	return err
}

func isFull(err error) bool {
	var e *Error
	return errors.As(err, &e) && e.Code == CodeDiskFull
}
