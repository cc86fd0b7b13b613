package keep

import (
	"bufio"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"chinlift/core"
	"chinlift/mobile/ui"
	"chinlift/sync/plain"
)

// incomingFolder lies in the data folder, and is in no backup of it: what comes
// in and was not taken in yet, what was unpacked to be looked at, and a backup
// until it was handed over. At the next start it is emptied.
const incomingFolder = "incoming"

// House choices.
const (
	longestIncoming = 2 << 30         // bytes of a file that comes in
	longestBackup   = 512 << 20       // bytes of a backup that is handed over as one piece of memory
	mostKeys        = 1 << 16         // bytes of a file of keys
	answerWithin    = 5 * time.Second // then the page says that it is at work
)

// Intake takes in files that come back from elsewhere, one at a time, and makes
// the backup of the whole device. Nothing of a file is in the record before
// somebody looked at what taking it in would do, and said so.
type Intake struct {
	c      *core.Companion
	dir    string
	o      core.Options // for a backup that is looked at: clock and words
	within func() <-chan time.Time

	mu     sync.Mutex
	now    ui.Incoming
	keys   plain.Unseal // what opened the last file, or a file of keys
	at     int64        // bytes of a file whose pieces come in
	size   int64
	sort   string
	secret string             // recovery key of the clinic whose device it is
	cancel context.CancelFunc // ends what is at work; nil: nothing is
	done   chan struct{}
}

var _ ui.Taker = (*Intake)(nil)

// NewIntake makes one for a companion and its data folder. What an earlier run
// left there is removed.
func NewIntake(c *core.Companion, data string, clock core.Clock) *Intake {
	in := &Intake{c: c, dir: filepath.Join(data, incomingFolder), o: core.Options{Clock: clock, Words: c.Words()},
		within: func() <-chan time.Time { return time.After(answerWithin) }}
	_ = os.RemoveAll(in.dir) // what stays is overwritten, or tells why nothing can come in
	return in
}

func (in *Intake) file() string   { return filepath.Join(in.dir, "file") }
func (in *Intake) device() string { return filepath.Join(in.dir, "device") }
func (in *Intake) backup() string { return filepath.Join(in.dir, plain.BackupName) }

// Incoming tells how it stands.
func (in *Intake) Incoming() ui.Incoming {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.now
}

// Receive keeps a piece of a file.
func (in *Intake) Receive(ctx context.Context, at, size int64, piece io.Reader) error {
	in.mu.Lock()
	defer in.mu.Unlock()
	switch {
	case in.cancel != nil:
		return &ui.TakeError{Code: "busy"}
	case size > longestIncoming:
		return &ui.TakeError{Code: "too-large"}
	case at < 0 || at > 0 && (in.now.State != ui.IncomingPart || at != in.at || size != in.size):
		return &ui.TakeError{Code: "again"}
	}
	if err := os.MkdirAll(in.dir, 0o700); err != nil {
		return err
	}
	how := os.O_WRONLY | os.O_CREATE | os.O_TRUNC
	if at > 0 {
		how = os.O_WRONLY | os.O_APPEND
	} else {
		in.forget()
	}
	n, err := in.write(ctx, how, piece)
	in.at, in.size = at+n, size
	switch {
	case err != nil:
		in.forget()
		return &ui.TakeError{Code: "cut"}
	case in.at > longestIncoming || size >= 0 && in.at > size:
		in.forget()
		return &ui.TakeError{Code: "too-large"}
	case in.at == 0:
		in.forget()
		return &ui.TakeError{Code: "empty"}
	case size >= 0 && in.at < size:
		in.now.State = ui.IncomingPart
		return nil
	}
	in.now.State, in.now.Bytes = ui.IncomingHere, in.at
	in.now.Sealed, err = sealed(in.file())
	return err
}

func (in *Intake) write(ctx context.Context, how int, piece io.Reader) (n int64, err error) {
	f, err := os.OpenFile(in.file(), how, 0o600)
	if err != nil {
		return 0, err
	}
	n, err = io.Copy(f, io.LimitReader(piece, longestIncoming+1))
	return n, errors.Join(err, f.Close(), ctx.Err())
}

func sealed(name string) (bool, error) {
	f, err := os.Open(name)
	if err != nil {
		return false, err
	}
	_, err = plain.Unseal{}.Open(f)
	if errors.Is(err, plain.ErrSealed) {
		return true, f.Close()
	}
	return false, errors.Join(err, f.Close())
}

// forget drops the file, and what is known of it. The lock is held.
func (in *Intake) forget() {
	_ = os.Remove(in.file())
	_ = os.RemoveAll(in.device())
	in.now = ui.Incoming{KeyHeld: in.now.KeyHeld, BackedUp: in.now.BackedUp}
	in.sort, in.secret, in.at, in.size = "", "", 0, 0
}

// Drop forgets the file, the keys, and what became of it.
func (in *Intake) Drop() {
	in.Rest()
	in.mu.Lock()
	defer in.mu.Unlock()
	in.keys, in.now.KeyHeld = plain.Unseal{}, false
	in.forget()
}

// Rest ends what is at work, and waits for that. What was merged by then stays,
// and can be taken in again.
func (in *Intake) Rest() {
	in.mu.Lock()
	cancel, done := in.cancel, in.done
	in.mu.Unlock()
	if cancel != nil {
		cancel()
		<-done
	}
}

// work does something beside the taps, and waits for it for a while: a page that
// gets no answer would take the tap for lost. What went wrong is told by the page.
func (in *Intake) work(state string, do func(ctx context.Context) (then func(now *ui.Incoming), err error)) error {
	in.mu.Lock()
	if in.cancel != nil {
		in.mu.Unlock()
		return &ui.TakeError{Code: "busy"}
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	in.cancel, in.done = cancel, done
	in.now.State, in.now.Why = ui.IncomingBusy, ""
	in.mu.Unlock()
	go func() {
		defer close(done)
		defer cancel()
		var then func(*ui.Incoming)
		err := errors.New("broken off")
		defer func() {
			// In a phone nobody else would catch it, and the process would end
			// with the record open.
			_ = recover()
			in.mu.Lock()
			defer in.mu.Unlock()
			in.cancel, in.now.State = nil, state
			if err != nil {
				in.now.Why = in.why(ctx, err)
			} else if then != nil {
				then(&in.now)
			}
		}()
		then, err = do(ctx)
	}()
	select {
	case <-done:
	case <-in.within():
	}
	return nil
}

// why gives the code of what went wrong.
func (in *Intake) why(ctx context.Context, err error) string {
	var bad *ui.TakeError
	switch {
	case errors.As(err, &bad):
		return bad.Code
	case ctx.Err() != nil:
		return "stopped"
	case errors.Is(err, plain.ErrSealed):
		return "sealed"
	case errors.Is(err, plain.ErrNothingOfOurs):
		return "none"
	case errors.Is(err, io.ErrUnexpectedEOF):
		return "damaged"
	case errors.Is(err, plain.ErrNotABackup):
		return "not-a-backup"
	}
	switch in.c.Explain(err).Code {
	case "no-recovery-key", "other-key":
		return "recovery"
	case "full":
		return "full"
	case "asleep":
		return "stopped"
	}
	return "damaged"
}

// Look opens the file, and says what taking it in would do.
func (in *Intake) Look(_ context.Context, secret, recovery string) error {
	in.mu.Lock()
	state, keys := in.now.State, in.keys
	in.mu.Unlock()
	if state != ui.IncomingHere && state != ui.IncomingLooked {
		return &ui.TakeError{Code: "nothing"}
	}
	if s := strings.TrimSpace(secret); strings.HasPrefix(strings.ToUpper(s), "AGE-SECRET-KEY-1") {
		var err error
		if keys, err = keys.With(strings.NewReader(strings.ToUpper(s))); err != nil {
			return &ui.TakeError{Code: "key", Field: "secret"}
		}
	} else if secret != "" {
		keys = keys.WithPassphrase(secret)
	}
	return in.work(state, func(ctx context.Context) (func(*ui.Incoming), error) { return in.look(ctx, keys, recovery) })
}

func (in *Intake) look(ctx context.Context, keys plain.Unseal, recovery string) (then func(*ui.Incoming), err error) {
	f, err := os.Open(in.file())
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	sort, content, err := keys.Sort(f)
	if err != nil {
		return nil, err
	}
	var l plain.Looked
	switch sort {
	case plain.SortKey:
		with, err := keys.With(io.LimitReader(content, mostKeys))
		if err != nil {
			return nil, err
		}
		return func(now *ui.Incoming) {
			in.keys, now.KeyHeld = with, true
			in.forget()
		}, nil
	case plain.SortLines:
		l, err = plain.Look(ctx, plain.ReadLines(content), in.c, nil)
		if err == nil && len(l.Logs) == 0 {
			err = plain.ErrNothingOfOurs
		}
	case plain.SortDevice:
		l, err = in.lookAtDevice(ctx, content, info.Size(), recovery)
	}
	if err != nil {
		return nil, err
	}
	return func(now *ui.Incoming) {
		in.keys, in.sort, in.secret = keys, sort, recovery
		now.State, now.Device, now.Found = ui.IncomingLooked, sort == plain.SortDevice, found(l)
	}, nil
}

func (in *Intake) lookAtDevice(ctx context.Context, content io.Reader, most int64, recovery string) (l plain.Looked, err error) {
	if _, err := os.Stat(in.device()); errors.Is(err, fs.ErrNotExist) {
		if err := plain.Unpack(ctx, content, in.device(), most); err != nil {
			return l, err
		}
	}
	d, err := plain.OpenDevice(ctx, in.device(), recovery, in.o)
	if err != nil {
		return l, err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	return plain.Look(ctx, d.Lines(ctx), in.c, d.Has)
}

func found(l plain.Looked) ui.IncomingFound {
	f := ui.IncomingFound{New: l.New, Known: l.Known, Cases: l.Cases, NewCases: len(l.NewCases), Names: l.Names, PrivateAdded: l.PrivateAdded, Locked: l.Sealed,
		Lacks: l.Lacks, Whole: l.Whole, Gaps: l.Gaps, Broken: l.Broken, Forks: l.Forks + l.Disputed, Damaged: l.Unread + l.Refused}
	for _, g := range l.Logs {
		f.Logs = append(f.Logs, ui.IncomingLog{Name: core.ShortCase(g.Log), Lines: g.Lines, First: g.First, Last: g.Last})
	}
	return f
}

// Take takes in what was looked at.
func (in *Intake) Take(context.Context) error {
	in.mu.Lock()
	state, keys, sort, secret := in.now.State, in.keys, in.sort, in.secret
	in.mu.Unlock()
	if state == ui.IncomingDone {
		return nil // a retry
	}
	if state != ui.IncomingLooked {
		return &ui.TakeError{Code: "nothing"}
	}
	return in.work(state, func(ctx context.Context) (func(*ui.Incoming), error) {
		r, succeeded, err := in.take(ctx, keys, sort, secret)
		if err != nil {
			return nil, err
		}
		st, err := plain.StandingOf(ctx, in.c, r.Cases)
		if err != nil {
			return nil, err
		}
		return func(now *ui.Incoming) {
			_ = os.Remove(in.file())
			_ = os.RemoveAll(in.device())
			now.State = ui.IncomingDone
			now.Taken = ui.IncomingTaken{New: r.New, Known: r.Known, Cases: len(r.Cases), PrivateAdded: r.PrivateAdded, Aside: r.Forks,
				Conflicts: st.Conflicts, Waiting: st.Waiting, LeftOut: r.Faults, Succeeded: succeeded}
		}, nil
	})
}

func (in *Intake) take(ctx context.Context, keys plain.Unseal, sort, recovery string) (r plain.Replayed, succeeded bool, err error) {
	if sort == plain.SortDevice {
		d, err := plain.OpenDevice(ctx, in.device(), recovery, in.o)
		if err != nil {
			return r, false, err
		}
		defer func() { err = errors.Join(err, d.Close()) }()
		return plain.GatherDevice(ctx, d, in.c)
	}
	f, err := os.Open(in.file())
	if err != nil {
		return r, false, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	_, content, err := keys.Sort(f)
	if err != nil {
		return r, false, err
	}
	r, err = plain.Replay(ctx, content, in.c)
	return r, false, err
}

// BackUp makes a sealed backup of the whole device.
func (in *Intake) BackUp(_ context.Context, passphrase, key string) error {
	var to plain.Seal
	var err error
	field := "passphrase"
	if key != "" {
		field = "key"
		to, err = plain.SealFor(key)
	} else {
		to, err = plain.SealWith(passphrase)
	}
	switch {
	case err != nil && field == "key":
		return &ui.TakeError{Code: "public-key", Field: field}
	case err != nil:
		return &ui.TakeError{Code: "short", Field: field}
	}
	in.mu.Lock()
	state := in.now.State
	in.mu.Unlock()
	return in.work(state, func(ctx context.Context) (func(*ui.Incoming), error) {
		n, err := in.backUp(ctx, to)
		if err != nil {
			return nil, errors.Join(err, os.Remove(in.backup()))
		}
		return func(now *ui.Incoming) { now.BackedUp = n }, nil
	})
}

func (in *Intake) backUp(ctx context.Context, to plain.Seal) (n int64, err error) {
	if err := os.MkdirAll(in.dir, 0o700); err != nil {
		return 0, err
	}
	f, err := os.OpenFile(in.backup(), os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return 0, err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	if err = plain.WriteBackup(ctx, in.c, b, to); err == nil {
		err = b.Flush()
	}
	info, bad := f.Stat()
	if err = errors.Join(err, bad, f.Close()); err != nil {
		return 0, err
	}
	if info.Size() > longestBackup {
		return 0, &ui.TakeError{Code: "backup-large"}
	}
	return info.Size(), nil
}

// Backup gives the backup that was made last.
func (in *Intake) Backup() (name string, data []byte, err error) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if in.now.BackedUp == 0 {
		return "", nil, &ui.TakeError{Code: "nothing"}
	}
	data, err = os.ReadFile(in.backup())
	return plain.BackupName, data, err
}
