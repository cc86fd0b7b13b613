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
	CodeDiskFull = "disk-full"
	CodeIO       = "io"
	CodeDamaged  = "damaged"
	CodeBusy     = "busy"
)

// Error is a failure of the device, by code. Nothing of what was being
// written is stored; what was stored before still is.
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
		if errno == syscall.ENOSPC {
			return &Error{CodeDiskFull, op, err}
		}
		return &Error{CodeIO, op, err}
	}
	return err
}
