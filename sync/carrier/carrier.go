// Package carrier brings objects to a place outside the device and back: a
// folder, as a memory stick or a share sheet gives; a WebDAV server; a store
// that speaks S3. All do the same few things, and one suite of tests holds for
// all of them.
//
// An object is written once under a name that no other content ever has. A
// carrier never overwrites and never deletes one. What it answers is only what
// the other side said: that an object arrived is known when it was read back
// and compared, which is the business of package outbox.
//
// It decides nothing: when to try again, whether a failure is for good, and
// what may leave the device at all, others decide.
package carrier

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
)

// Info is an object in a list.
type Info struct {
	Name  string
	Bytes int64
}

// Carrier is one destination. Errors are *Error wherever the other side, or
// the way to it, is at fault; a context that ended is answered as such.
type Carrier interface {
	// Put brings an object. CodeExists when there is one of this name, whole
	// or not; nothing was changed then. On any other error the object may
	// have arrived all the same.
	Put(ctx context.Context, name string, data []byte) error
	// Get brings an object back, of at most so many bytes. CodeNotFound when
	// there is none.
	Get(ctx context.Context, name string, most int64) ([]byte, error)
	// Stat says how large an object is, by the means of the protocol, which
	// nobody else's answer is taken for. CodeNotFound when there is none.
	Stat(ctx context.Context, name string) (Info, error)
	// List walks the objects that are there, in no order, and ends with the
	// error of yield. Half-written ones are not among them.
	List(ctx context.Context, yield func(Info) error) error
}

// Code says what sort of failure it was.
type Code string

// The codes.
const (
	CodeExists   Code = "exists"    // an object of this name is there
	CodeNotFound Code = "not-found" // none is there
	CodeOffline  Code = "offline"   // could not be reached, or the connection broke off
	CodeForeign  Code = "foreign"   // somebody else answered, such as the login page of a network
	CodeBusy     Code = "busy"      // it answers that it cannot at the moment
	CodeFull     Code = "full"      // there is no room
	CodeClock    Code = "clock"     // it does not accept the time of this device
	CodeBroken   Code = "broken"    // the answer makes no sense
	CodeMissing  Code = "missing"   // the folder, or the bucket, is not there
	CodeRefused  Code = "refused"   // credentials or rights do not suffice
	CodeTooLarge Code = "too-large" // it takes no object of this size
	CodeName     Code = "name"      // the name cannot be one
)

// Error is a failure of a destination.
type Error struct {
	Code   Code
	Op     string // put, get, stat, list
	Name   string
	Status int // of HTTP; 0 where there is none
	Err    error
}

func (e *Error) Error() string {
	s := e.Op + " " + e.Name + ": " + string(e.Code)
	if e.Status != 0 {
		s += fmt.Sprintf(" (status %d)", e.Status)
	}
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	return s
}

func (e *Error) Unwrap() error { return e.Err }

// CodeOf gives the code of an error; empty where it has none.
func CodeOf(err error) Code {
	var e *Error
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// Permanent reports that trying again will not help until somebody changed
// something: rights, the size that is taken.
func (c Code) Permanent() bool { return c == CodeRefused || c == CodeTooLarge || c == CodeName }

// OfObject reports that the failure is of one object and says nothing about
// the next.
func (c Code) OfObject() bool {
	return c == CodeExists || c == CodeNotFound || c == CodeTooLarge || c == CodeName
}

// part begins the last piece of the name of what is half written.
const part = ".part-"

var pieceOfName = regexp.MustCompile(`^[A-Za-z0-9_][A-Za-z0-9._=-]{0,149}$`)

// checkName lets through names that mean the same everywhere: pieces of plain
// letters, parted by slashes.
func checkName(op, name string) error {
	pieces := strings.Split(name, "/")
	if len(pieces) > 5 || len(name) > 300 {
		return &Error{Code: CodeName, Op: op, Name: name}
	}
	for _, p := range pieces {
		if !pieceOfName.MatchString(p) || strings.HasPrefix(p, part) {
			return &Error{Code: CodeName, Op: op, Name: name}
		}
	}
	return nil
}
