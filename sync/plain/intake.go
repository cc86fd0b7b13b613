package plain

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"errors"
	"io"
	"iter"
	"os"
	"slices"
	"time"

	"chinlift/core"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// What a file that came in may be.
const (
	SortLines  = "lines"  // of an export, or a segment of the outbox
	SortDevice = "device" // a backup of a whole device
	SortKey    = "key"    // the key of files that were sealed with a passphrase
)

// ErrNothingOfOurs says that a file is none that can be taken in.
var ErrNothingOfOurs = errors.New("the file holds no entries, no backup and no key")

// Sort opens what comes in, plain or sealed, and tells what it is by its
// beginning.
func (u Unseal) Sort(r io.Reader) (sort string, content io.Reader, err error) {
	r, err = u.Open(r)
	if err != nil {
		return "", nil, err
	}
	b := bufio.NewReaderSize(r, 1<<10)
	head, err := b.Peek(512)
	if err != nil && !errors.Is(err, io.EOF) {
		return "", nil, err
	}
	text := bytes.TrimLeft(bytes.TrimPrefix(head, byteOrderMark), " \t\r\n")
	switch {
	case len(head) == 512 && bytes.Equal(head[257:262], []byte("ustar")): // POSIX.1-1988, the header of a tar file
		return SortDevice, b, nil
	case bytes.HasPrefix(text, []byte("{")):
		return SortLines, b, nil
	case bytes.Contains(head, []byte("AGE-SECRET-KEY-1")):
		return SortKey, b, nil
	}
	return "", nil, ErrNothingOfOurs
}

// Meeter can be asked what it has of the lines that would come in: a companion.
type Meeter interface {
	Meet(ctx context.Context, lines []*timeline.Line) (store.Met, error)
	Blob(h timeline.Hash) ([]byte, error)
}

var _ Meeter = (*core.Companion)(nil)

// Looked is what is in a file, and what taking it in would do.
type Looked struct {
	store.Met
	Logs   []LogFound
	Cases  int // that the lines are about
	Unread int // lines that cannot be read
	Sealed int // lines whose names lie locked in the device that they come from
	Names  bool
	Lacks  int // photographs and lists that are neither here nor there

	Whole    bool // every log is there from its first line on, without a gap
	Gaps     int  // places where numbers are missing in a log
	Broken   int  // lines that do not follow the one that they name, or do not fit otherwise
	Disputed int  // lines of the file that claim a number or an id that another line of it claims
}

// LogFound is a log of which lines are in a file: what one device wrote.
type LogFound struct {
	Log         string
	Lines       int
	First, Last time.Time // when the first and the last of these was entered
	Cause       term.LogCause
}

// Look reads lines and says what merging them would do. It changes nothing. An
// error of the reading ends it: what was cut off or changed under a seal is
// looked at as a whole or not at all. blob tells of files that come along; it
// may be nil.
func Look(ctx context.Context, lines iter.Seq2[*timeline.Line, error], dst Meeter, blob func(timeline.Hash) bool) (Looked, error) {
	k := looking{seen: map[timeline.Hash]bool{}, cases: map[string]bool{}, fresh: map[string]bool{}, logs: map[string]*LogFound{}, blobs: map[timeline.Hash]bool{}}
	flush := func() error {
		m, err := dst.Meet(ctx, k.batch)
		k.add(m)
		return err
	}
	for l, err := range lines {
		var bad *LineError
		switch {
		case errors.As(err, &bad):
			k.Unread++
			continue
		case err != nil:
			return Looked{}, err
		}
		k.line(l)
		if len(k.batch) == replayBatch {
			if err := flush(); err != nil {
				return Looked{}, err
			}
		}
	}
	if err := flush(); err != nil {
		return Looked{}, err
	}
	for h := range k.blobs {
		if _, err := dst.Blob(h); errors.Is(err, store.ErrNoBlob) && (blob == nil || !blob(h)) {
			k.Lacks++
		}
	}
	return k.done(), nil
}

// looking is a Look that is under way.
type looking struct {
	Looked
	batch, all   []*timeline.Line
	seen         map[timeline.Hash]bool
	cases, fresh map[string]bool
	logs         map[string]*LogFound
	blobs        map[timeline.Hash]bool
}

func (k *looking) line(l *timeline.Line) {
	if l.Sealed {
		k.Sealed++
	}
	for _, h := range BlobsOf(l, true) {
		k.blobs[h] = true
	}
	// The chain is held against itself without the private part, whose own
	// commitment Meet looks at.
	bare := *l
	bare.P, bare.Private = nil, nil
	if k.batch = append(k.batch, l); l.Verify() != nil {
		return
	}
	k.Names = k.Names || l.P != nil
	if k.seen[l.H] {
		return
	}
	k.seen[l.H] = true
	k.all = append(k.all, &bare)
	e := &l.Event
	if e.Scope == timeline.ScopeCase {
		k.cases[e.About] = true
	}
	g := k.logs[e.Log]
	if g == nil {
		g = &LogFound{Log: e.Log, First: e.Entered.Wall.Time, Last: e.Entered.Wall.Time}
		k.logs[e.Log] = g
	}
	g.Lines++
	if e.Entered.Wall.Before(g.First) {
		g.First = e.Entered.Wall.Time
	}
	if e.Entered.Wall.After(g.Last) {
		g.Last = e.Entered.Wall.Time
	}
	if p, ok := l.Payload.(*timeline.LogOpened); ok {
		g.Cause = p.Cause
	}
}

func (k *looking) add(m store.Met) {
	k.New += m.New
	k.Known += m.Known
	k.PrivateAdded += m.PrivateAdded
	k.Forks += m.Forks
	k.Refused += m.Refused
	k.Unchained = append(k.Unchained, m.Unchained...)
	for _, id := range m.NewCases {
		k.fresh[id] = true
	}
	k.batch = nil
}

func (k *looking) done() Looked {
	r := store.VerifyLines(k.all)
	k.Whole = r.Continuity == store.ContinuityWhole
	for _, f := range r.Findings {
		switch f.Code {
		case "fork", "same-id":
			k.Disputed++
		default:
			k.Broken++
		}
	}
	for _, h := range k.Unchained {
		if !k.seen[h] {
			k.Broken++
		}
	}
	k.Gaps = gaps(k.all)
	k.Cases = len(k.cases)
	for id := range k.fresh {
		k.NewCases = append(k.NewCases, id)
	}
	slices.Sort(k.NewCases)
	for _, g := range k.logs {
		k.Logs = append(k.Logs, *g)
	}
	slices.SortFunc(k.Logs, func(a, b LogFound) int { return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Log, b.Log)) })
	return k.Looked
}

// gaps counts where numbers are missing between lines of a log, and before the
// first.
func gaps(lines []*timeline.Line) (n int) {
	numbers := map[string][]int64{}
	for _, l := range lines {
		numbers[l.Event.Log] = append(numbers[l.Event.Log], l.Event.Seq)
	}
	for _, seqs := range numbers {
		slices.Sort(seqs)
		last := int64(0)
		for _, q := range seqs {
			if q > last+1 {
				n++
			}
			last = q
		}
	}
	return n
}

// Device is a backup that was unpacked into a folder, to be read.
type Device struct {
	c    *core.Companion
	Head core.LogHead // up to which its own log goes
}

// Unpack puts a backup into a folder that is not there yet, to be looked at. It
// is there whole or not at all. A backup is not packed closer than it is: what
// says that it has more bytes than most, the whole file, is none.
func Unpack(ctx context.Context, r io.Reader, dir string, most int64) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	if err := unpack(ctx, r, dir, most); err != nil {
		return errors.Join(err, os.RemoveAll(dir))
	}
	return nil
}

// OpenDevice opens an unpacked backup. Nothing of it goes into any record. What
// is sealed in it opens with the recovery key of its clinic; empty: it stays so.
func OpenDevice(ctx context.Context, dir, recovery string, o core.Options) (*Device, error) {
	o.Dir, o.Installation, o.Witness, o.Safe = dir, "looked at", nil, nil
	// Once for writing: a backup of an older version is brought up to date.
	c, err := core.Open(ctx, o)
	if err != nil {
		return nil, errors.Join(ErrNotABackup, err)
	}
	d := &Device{Head: c.Last()}
	if err := c.Close(); err != nil {
		return nil, err
	}
	if d.c, err = core.OpenReadOnly(ctx, o); err != nil {
		return nil, err
	}
	if recovery != "" {
		if err := d.c.Recover(ctx, recovery); err != nil {
			return nil, errors.Join(err, d.c.Close())
		}
	}
	return d, nil
}

// Close closes it.
func (d *Device) Close() error { return d.c.Close() }

// Lines walks its lines in entry order.
func (d *Device) Lines(ctx context.Context) iter.Seq2[*timeline.Line, error] {
	return func(yield func(*timeline.Line, error) bool) {
		stop := errors.New("enough")
		err := d.c.All(ctx, func(l *timeline.Line) error {
			if !yield(l, nil) {
				return stop
			}
			return nil
		})
		if err != nil && !errors.Is(err, stop) {
			yield(nil, err)
		}
	}
}

// Has reports that it holds a file that a line names.
func (d *Device) Has(h timeline.Hash) bool {
	_, err := d.c.Blob(h)
	return err == nil
}

// GatherDevice takes in the lines of a backup and the files that they name: a
// union, as of any file. A device that wrote nothing yet then begins its log
// with the head of the one that it follows; succeeded says that it did.
func GatherDevice(ctx context.Context, d *Device, dst interface {
	Gatherer
	Meeter
	Succeed(ctx context.Context, old core.LogHead) (bool, error)
}) (res Replayed, succeeded bool, err error) {
	cases := map[string]bool{}
	var batch []*timeline.Line
	flush := func() error {
		m, err := dst.Merge(ctx, batch)
		res.take(m, cases)
		batch = nil
		return err
	}
	for l, err := range d.Lines(ctx) {
		if err != nil {
			return res, false, err
		}
		for _, h := range BlobsOf(l, true) {
			if _, err := dst.Blob(h); !errors.Is(err, store.ErrNoBlob) {
				continue
			}
			data, err := d.c.Blob(h)
			if err != nil {
				continue // it lacks there as well, or is damaged: the look told
			}
			if _, err := dst.KeepBlob(ctx, data); err != nil {
				return res, false, err
			}
		}
		if batch = append(batch, l); len(batch) == replayBatch {
			if err := flush(); err != nil {
				return res, false, err
			}
		}
	}
	if err := flush(); err != nil {
		return res, false, err
	}
	res.settle(cases)
	succeeded, err = dst.Succeed(ctx, d.Head)
	return res, succeeded, err
}
