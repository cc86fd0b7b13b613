// Package outbox sees to it that what is recorded reaches the places that a
// clinic named, and says of what it is known that it did.
//
// What is new is cut into parcels: segments of the logs as JSON lines, plain
// or sealed, and the files that these lines name. A parcel has a name that no
// other content ever has (log, range, SHA-256 of what is carried), is written
// once, and never changes: a parcel that arrives twice is the same one. So
// nothing need be asked of a destination before something is sent, and what is
// carried depends on what is new, not on what there is.
//
// A parcel is confirmed when it was read back and is the same, byte for byte.
// Until then it is tried again, ever less often; a failure that trying cannot
// mend ends in refused, with its reason, until somebody asks for another try.
// Nothing on this device is ever taken away because it was sent.
//
// The layout at a destination can be read in place by any program that reads
// JSON lines:
//
//	segments/log=UUID/FIRST-LAST-SHA256.jsonl
//	blobs/SHA256
//
// A sealed parcel has .age behind its name; a sealed blob has the first 16
// digits of its own SHA-256 between. Lines may be in two segments: where their
// private part came later, and where two devices carry what they both have.
// Whoever takes them in takes the union.
//
// This package has no clock, no randomness and no network of its own.
package outbox

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"chinlift/core/store"
	"chinlift/core/timeline"
	"chinlift/sync/carrier"
	"chinlift/sync/plain"
)

// Table keeps parcels and how far they have come: the store's outbox.
type Table interface {
	Fresh(ctx context.Context, destination string, most int64, private bool) (store.Cut, error)
	Provide(ctx context.Context, destination string, c store.Cut, parcels []store.Parcel) (bool, error)
	Open(ctx context.Context, destination string) ([]store.Parcel, error)
	Mark(ctx context.Context, p store.Parcel) error
	Standing(ctx context.Context, destination string) (store.Standing, error)
	Recut(ctx context.Context, destination string, force bool) (bool, error)
	Keep(ctx context.Context, data []byte) (timeline.Hash, error)
	Bytes(h timeline.Hash) ([]byte, error)
	Drop(h timeline.Hash) error
	Sweep(ctx context.Context) error
}

var _ Table = store.Outbox{}

// Destination is one place that everything is to reach.
type Destination struct {
	Name    string // as the clinic calls it; the table goes by it
	Carrier carrier.Carrier
	Private bool       // with names, record numbers and free text
	Seal    plain.Seal // for whom it is sealed
}

// Progress tells how a run goes.
type Progress struct {
	Done, Parcels int   // parcels confirmed in this run, and open when it began
	Bytes, Total  int64 // bytes of these
}

// Outbox carries for one device.
type Outbox struct {
	Table Table
	Blob  func(timeline.Hash) ([]byte, error) // a file that a line names; store.ErrNoBlob: not here
	Now   func() time.Time                    // the wall clock, which may jump
	Rand  func() float64                      // from 0 up to 1, for the jitter
	Tell  func(Progress)                      // may be nil
}

// House choices: how much goes into a segment, so that a slow connection gets
// something done before it breaks; how long to wait between tries.
const (
	mostLines = 500
	mostBytes = 512 << 10
	firstWait = 30 * time.Second
	longWait  = time.Hour
	// lookAgain is how often a parcel must come back different before it is
	// sent under a further name, since what lies there is not overwritten.
	lookAgain = 3
	longest   = 128 << 20 // of anything that is read back
)

// Result is what a run did.
type Result struct {
	Cut       int          // parcels that were made
	Confirmed int          // parcels that were read back and are the same
	Stopped   carrier.Code // why it stopped before the end; empty: it did not
	Wait      bool         // it did nothing, since the time for the next try has not come
	Locked    bool         // some of what is new waits until its private part is unsealed
}

// Run carries what is new and what is still open. byHand, it tries at once,
// whatever was to be waited for, and also what was refused. A context that
// ends stops it between two steps, or within one; nothing is lost by it, and
// no try is counted. The error is one of the device; those of the destination
// are in the table.
func (o *Outbox) Run(ctx context.Context, d Destination, byHand bool) (Result, error) {
	var r Result
	if _, err := o.Table.Recut(ctx, d.Name, false); err != nil {
		return r, err
	}
	if err := o.Table.Sweep(ctx); err != nil {
		return r, err
	}
	for {
		n, more, err := o.cut(ctx, d, &r)
		r.Cut += n
		if err != nil {
			return r, err
		}
		if !more {
			break
		}
	}
	open, err := o.Table.Open(ctx, d.Name)
	if err != nil {
		return r, err
	}
	if !byHand {
		for i := range open {
			p := &open[i]
			// A failure that is of the whole destination holds for all.
			if code := carrier.Code(p.Why); code != "" && !code.OfObject() {
				switch {
				case p.State == store.ParcelRefused:
					r.Stopped = code
					return r, nil
				case !o.due(p):
					r.Wait = true
					return r, nil
				}
			}
		}
	}
	t := Progress{Parcels: len(open)}
	for i := range open {
		t.Total += open[i].Bytes
	}
	o.tell(t)
	for i := range open {
		p := &open[i]
		if !byHand && (p.State == store.ParcelRefused || !o.due(p)) {
			continue
		}
		if p.State == store.ParcelRefused {
			p.State = store.ParcelWaiting
		}
		code, err := o.carry(ctx, d, p)
		if err != nil {
			return r, err
		}
		if p.State == store.ParcelConfirmed {
			r.Confirmed++
			t.Done++
			t.Bytes += p.Bytes
			o.tell(t)
		}
		if code != "" && !code.OfObject() {
			r.Stopped = code
			return r, nil
		}
	}
	return r, nil
}

func (o *Outbox) tell(p Progress) {
	if o.Tell != nil {
		o.Tell(p)
	}
}

// cut makes parcels of what is new.
func (o *Outbox) cut(ctx context.Context, d Destination, r *Result) (n int, more bool, err error) {
	c, err := o.Table.Fresh(ctx, d.Name, 2*mostLines, d.Private)
	r.Locked = r.Locked || c.Locked
	if err != nil || !c.More() {
		return 0, false, err
	}
	parcels, err := o.parcels(ctx, d, c.Lines)
	if err != nil {
		return 0, false, err
	}
	provided, err := o.Table.Provide(ctx, d.Name, c, parcels)
	if err != nil || !provided {
		return 0, false, err
	}
	return len(parcels), true, nil
}

// parcels cuts lines into segments, each of one log, without a gap in it, and
// puts before them the files that the lines name.
func (o *Outbox) parcels(ctx context.Context, d Destination, lines []*timeline.Line) (all []store.Parcel, err error) {
	lines = slices.Clone(lines)
	slices.SortStableFunc(lines, func(a, b *timeline.Line) int {
		return cmp.Or(cmp.Compare(a.Event.Log, b.Event.Log), cmp.Compare(a.Event.Seq, b.Event.Seq), cmp.Compare(a.H, b.H))
	})
	named := map[timeline.Hash]bool{}
	for _, l := range lines {
		for _, h := range plain.BlobsOf(l, d.Private) {
			if named[h] {
				continue
			}
			named[h] = true
			data, err := o.Blob(h)
			if errors.Is(err, store.ErrNoBlob) {
				continue // it came without; whoever has it carries it
			}
			if err != nil {
				return nil, err
			}
			p, err := o.parcel(ctx, d, "blobs/"+string(h), "", data, 0)
			if err != nil {
				return nil, err
			}
			all = append(all, p)
		}
	}
	for len(lines) > 0 {
		n, size := 0, 0
		for n < len(lines) && n < mostLines && (n == 0 || size < mostBytes && follows(lines[n-1], lines[n])) {
			size += len(lines[n].E) + len(lines[n].P) + len(lines[n].H)
			n++
		}
		var b bytes.Buffer
		for _, l := range lines[:n] {
			b.Write(l.Bytes(d.Private))
			b.WriteByte('\n')
		}
		first, last := &lines[0].Event, &lines[n-1].Event
		p, err := o.parcel(ctx, d, fmt.Sprintf("segments/log=%s/%012d-%012d", first.Log, first.Seq, last.Seq), ".jsonl", b.Bytes(), int64(n))
		if err != nil {
			return nil, err
		}
		all = append(all, p)
		lines = lines[n:]
	}
	return all, nil
}

// follows reports that two lines can stand side by side in a segment: of one
// log and without a gap, or with one number that both claim.
func follows(a, b *timeline.Line) bool {
	return a.Event.Log == b.Event.Log && (b.Event.Seq == a.Event.Seq || b.Event.Seq == a.Event.Seq+1)
}

// parcel makes one, and puts its bytes on disk.
func (o *Outbox) parcel(ctx context.Context, d Destination, name, ending string, data []byte, lines int64) (p store.Parcel, err error) {
	sealed, err := d.Seal.Seal(data)
	if err != nil {
		return p, err
	}
	h, err := o.Table.Keep(ctx, sealed)
	if err != nil {
		return p, err
	}
	switch {
	case lines > 0:
		name += "-" + string(h) + ending
	case !d.Seal.IsZero():
		name += "." + string(h[:16])
	}
	if !d.Seal.IsZero() {
		name += plain.Sealed
	}
	return store.Parcel{Destination: d.Name, Name: name, Sum: h, Bytes: int64(len(sealed)), Lines: lines, Since: o.Now().UnixMilli()}, nil
}

// due reports that a parcel may be tried. A clock that was set back, or that
// was far ahead when the wait began, keeps nothing waiting for long.
func (o *Outbox) due(p *store.Parcel) bool {
	now := o.Now().UnixMilli()
	return now >= p.Next || now < p.Since || p.Next-now > longWait.Milliseconds()
}

// carry tries one parcel, and stores after each step how far it has come. It
// answers the code of the failure; the error is one of the device.
func (o *Outbox) carry(ctx context.Context, d Destination, p *store.Parcel) (carrier.Code, error) {
	data, err := o.Table.Bytes(p.Sum)
	var e *store.Error
	if errors.Is(err, store.ErrNoBlob) || errors.As(err, &e) && e.Code == store.CodeDamaged {
		// The bytes were lost. The record was not: it is cut anew.
		_, err := o.Table.Recut(ctx, d.Name, true)
		return carrier.CodeBusy, err
	}
	if err != nil {
		return "", err
	}
	if first := further(p.Name, 1); first != p.Name {
		// What lay under its own name was something else. It may have been
		// somebody else who said so.
		if back, err := d.Carrier.Get(ctx, first, longest); err == nil && bytes.Equal(back, data) {
			p.Name = first
			return "", o.confirm(ctx, p)
		}
	}
	if p.State != store.ParcelSent {
		err := d.Carrier.Put(ctx, p.Name, data)
		code := carrier.CodeOf(err)
		if err != nil && code != carrier.CodeExists {
			return o.failed(ctx, p, code, err)
		}
		if err == nil {
			if err := o.mark(ctx, p, store.ParcelSent, ""); err != nil {
				return "", err
			}
		}
	}
	back, err := d.Carrier.Get(ctx, p.Name, longest)
	switch {
	case err != nil:
		if carrier.CodeOf(err) == carrier.CodeNotFound {
			p.State = store.ParcelWaiting // it said that it had it
		}
		return o.failed(ctx, p, carrier.CodeOf(err), err)
	case !bytes.Equal(back, data):
		p.State = store.ParcelWaiting
		if p.Tries%lookAgain == lookAgain-1 && o.damaged(ctx, d, p, back) {
			p.Name = further(p.Name, p.Tries/lookAgain+2)
		}
		return o.failed(ctx, p, carrier.CodeForeign, nil)
	}
	return "", o.confirm(ctx, p)
}

// confirm stores that a parcel is there, and lets its bytes go.
func (o *Outbox) confirm(ctx context.Context, p *store.Parcel) error {
	if err := o.mark(ctx, p, store.ParcelConfirmed, ""); err != nil {
		return err
	}
	return o.Table.Drop(p.Sum)
}

// damaged reports that what lies under a parcel's name is for good something
// else: the destination itself says that its size is another, or gives the
// same wrong bytes once more. Then it is left where it is.
func (o *Outbox) damaged(ctx context.Context, d Destination, p *store.Parcel, back []byte) bool {
	info, err := d.Carrier.Stat(ctx, p.Name)
	if err != nil {
		return false
	}
	if info.Bytes != p.Bytes {
		return true
	}
	again, err := d.Carrier.Get(ctx, p.Name, longest)
	return err == nil && bytes.Equal(again, back)
}

// further gives the n-th name of a parcel: the first is its own, the others
// are for when that is taken by something else.
func further(name string, n int) string {
	base, rest := name, ""
	for _, ending := range []string{plain.Sealed, ".jsonl"} {
		if cut, ok := strings.CutSuffix(base, ending); ok {
			base, rest = cut, ending+rest
		}
	}
	if i := strings.LastIndexByte(base, '_'); i > 0 {
		base = base[:i]
	}
	if n == 1 {
		return base + rest
	}
	return fmt.Sprintf("%s_%d%s", base, n, rest)
}

func (o *Outbox) mark(ctx context.Context, p *store.Parcel, state store.ParcelState, why string) error {
	p.State, p.Why, p.Since, p.Next = state, why, o.Now().UnixMilli(), 0
	return o.Table.Mark(ctx, *p)
}

// failed stores a failure and when to try again. A run that was stopped by its
// context is none.
func (o *Outbox) failed(ctx context.Context, p *store.Parcel, code carrier.Code, err error) (carrier.Code, error) {
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	if code == "" && err != nil {
		return "", err // not of the destination
	}
	now := o.Now()
	p.Tries, p.Why, p.Since = p.Tries+1, string(code), now.UnixMilli()
	if code.Permanent() {
		p.State = store.ParcelRefused
	}
	p.Next = now.Add(o.wait(p.Tries)).UnixMilli()
	return code, o.Table.Mark(ctx, *p)
}

// wait doubles with each try up to an hour, and is then made shorter by up to
// half, so that the devices of a clinic do not all come at once.
func (o *Outbox) wait(tries int) time.Duration {
	w := longWait
	if tries < 8 {
		w = min(longWait, firstWait<<(tries-1))
	}
	return w/2 + time.Duration(o.Rand()*float64(w/2))
}
