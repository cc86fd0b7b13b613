package store

import (
	"encoding/hex"
	"sync"
	"sync/atomic"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Head is the last line that a database wrote: its log, its number, its hash.
// The zero Head is of no line.
type Head struct {
	Log  string        `json:"log"`
	Seq  int64         `json:"seq"`
	Hash timeline.Hash `json:"hash"`
}

// Witness remembers the head where a backup of the folder does not reach. A
// backup that is put back looks just like the database that it was made of;
// only somebody outside can tell that lines were written after it. A database
// that does not hold the head is such an older state of itself, and opens a
// new log instead of writing numbers a second time.
//
// The head that it remembers may be older than the database. A backup made
// between the two is then not noticed, nor one that is put back together with
// the witness.
type Witness interface {
	// Load gives what was saved last; the zero Head when nothing was. Where
	// it cannot tell, the store takes the database for an older state, since
	// a log too many does no harm.
	Load() (Head, error)

	// Save remembers a head. It is called after each commit, and must then
	// cost no sync: what is lost leaves an older head. At a checkpoint, and
	// when the store is suspended or closed, it is durable: on disk before it
	// answers. It must not call the store. What it fails to save is no
	// failure of the store.
	Save(h Head, durable bool) error
}

// witness tells the Witness, if there is one, of the heads.
type witness struct {
	to   Witness
	head atomic.Pointer[Head] // after the last commit; nil: no log is open
	mu   sync.Mutex           // one save at a time
}

// begin takes the head that the database is opened at.
func (w *witness) begin(h Head) {
	w.head.Store(nil)
	if h != (Head{}) {
		w.head.Store(&h)
	}
}

// saw is called after each commit. It does not wait for a durable save that is
// under way beside the taps: the head that stays is an older one.
func (w *witness) saw(h Head) {
	if old := w.head.Load(); w.to == nil || h == (Head{}) || old != nil && *old == h {
		return
	}
	w.head.Store(&h)
	if w.mu.TryLock() {
		defer w.mu.Unlock()
		_ = w.to.Save(h, false) // an older head stays
	}
}

// keep saves the head durably.
func (w *witness) keep() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if h := w.head.Load(); w.to != nil && h != nil {
		_ = w.to.Save(*h, true) // an older head stays
	}
}

// own is the head as a Witness knows it: none while another log is to be
// opened, so that the head that showed it is not forgotten.
func (h head) own() Head {
	if h.cause != "" {
		return Head{}
	}
	return Head{h.log, h.seq, h.hash}
}

// heed asks the Witness whether the database is an older state of itself. It
// is written down at once: a merge may bring the very line that is missing.
func (w *writer) heed(to Witness) error {
	if to == nil || w.head.cause != "" {
		return nil
	}
	kept, err := to.Load()
	if err == nil && kept == (Head{}) {
		return nil
	}
	_, doErr := w.do(func(t *tx) error {
		held := false
		if raw, bad := hex.DecodeString(string(kept.Hash)); err == nil && bad == nil {
			_, err := t.get("SELECT EXISTS (SELECT 1 FROM line WHERE log = ? AND seq = ? AND h = ?)", []any{kept.Log, kept.Seq, raw}, &held)
			if err != nil {
				return err
			}
		}
		if held {
			return nil
		}
		return t.older()
	})
	return doErr
}

// older notes that the database is an older state of itself. To go on in its
// log would fork it.
func (t *tx) older() error {
	t.head.cause = term.LogCauseRestored
	return t.exec("INSERT OR IGNORE INTO meta (key, value) VALUES ('behind', '1')")
}

// Opens says why the next line that is written will open a log: new for a
// folder in which nothing was written yet, copied for the database of another
// installation, restored for an older state of the own one. Empty: the log
// that is open goes on, or the store is read-only or not open.
func (s *Store) Opens() term.LogCause {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil || s.readOnly {
		return ""
	}
	s.db.mu.Lock()
	defer s.db.mu.Unlock()
	return s.db.w.head.cause
}
