package store

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"

	"github.com/google/renameio/v2"

	"chinlift/core/timeline"
)

// Outbox is the part of a store that knows what is to leave this device, and
// how far it has come. It is a table of this device, not events: what was
// carried changes nothing in the record.
//
// What is cut for a destination lies in a folder of its own until it is
// confirmed there, so that every try carries the same bytes under the same
// name. None of it is needed for the record, and nothing of the record is ever
// taken away by it.
type Outbox struct{ s *Store }

// Outbox gives it.
func (s *Store) Outbox() Outbox { return Outbox{s} }

// ParcelState is how far a parcel has come.
type ParcelState string

// The states of a parcel.
const (
	ParcelWaiting   ParcelState = "waiting"   // not there yet, or not known to be
	ParcelSent      ParcelState = "sent"      // the destination took it; not read back yet
	ParcelConfirmed ParcelState = "confirmed" // read back, and the same
	ParcelRefused   ParcelState = "refused"   // will not be taken; somebody must look
)

// Parcel is one object for one destination.
type Parcel struct {
	N           int64
	Destination string
	Name        string        // where it goes; no other content ever has this name
	Sum         timeline.Hash // SHA-256 of its bytes as they are carried
	Bytes       int64
	Lines       int64 // lines in it; none for a file that lines name
	State       ParcelState
	Tries       int
	Since       int64  // wall clock in ms when the state was set
	Next        int64  // wall clock in ms before which it is not tried again
	Why         string // code of the last failure; empty: none
}

// Cursor is how far a destination has been provided for.
type Cursor struct{ Line, Private, Destroyed int64 }

// Cut is what a destination has not been provided with: lines that came since,
// and lines that got their private part since.
type Cut struct {
	From, To Cursor
	Lines    []*timeline.Line
	Locked   bool // it ends before a line whose private part is sealed: what follows waits until that can be opened
}

const (
	queryCursor = "SELECT line, private, destroyed FROM destination WHERE name = ?"
	queryHeads  = "SELECT (SELECT coalesce(max(row), 0) FROM line), (SELECT coalesce(max(n), 0) FROM private), (SELECT count(*) FROM destroyed)"

	// Lines since the cursor, and lines from before it whose private part is
	// newer. Both are walked by their numbers.
	queryFresh = "SELECT " + columns + tables + " WHERE line.row > ?1 AND line.row <= ?2 ORDER BY line.row"
	queryLater = "SELECT " + columns + ", private.n FROM private CROSS JOIN line ON line.row = private.row LEFT JOIN seal ON seal.n = private.seal" +
		" WHERE private.n > ?1 AND private.n <= ?2 AND private.p >= x'01' AND line.row <= ?3 ORDER BY private.n LIMIT ?4"
	queryLaterEnd = "SELECT max(n) FROM (SELECT private.n FROM private CROSS JOIN line ON line.row = private.row" +
		" WHERE private.n > ?1 AND private.n <= ?2 AND private.p >= x'01' AND line.row <= ?3 ORDER BY private.n LIMIT ?4)"

	parcelColumns = "n, destination, name, sum, bytes, lines, state, tries, since, next, why"
	queryOpen     = "SELECT " + parcelColumns + " FROM parcel WHERE destination = ?1 AND state <> 'confirmed' ORDER BY n"
)

// Fresh gives what a destination has not been provided with, at most twice so
// many lines. private says that it gets private parts as well.
func (o Outbox) Fresh(ctx context.Context, destination string, most int64, private bool) (c Cut, err error) {
	err = o.s.read(ctx, "outbox", func(ctx context.Context, q querier) error {
		err := q.QueryRowContext(ctx, queryCursor, destination).Scan(&c.From.Line, &c.From.Private, &c.From.Destroyed)
		known := err == nil
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := q.QueryRowContext(ctx, queryHeads).Scan(&c.To.Line, &c.To.Private, &c.To.Destroyed); err != nil {
			return err
		}
		if known {
			c.To.Destroyed = c.From.Destroyed // for Recut to find
		}
		// add takes a line, and says where the cut ends when it may not go on.
		add := func(rows *sql.Rows, into ...any) (row int64, err error) {
			var r stored
			if err := rows.Scan(append(r.into(), into...)...); err != nil {
				return 0, err
			}
			l, err := r.line(&o.s.seals)
			if err != nil {
				return 0, err
			}
			if l.Sealed && private {
				c.Locked = true
				return r.row, errCutEnds
			}
			c.Lines = append(c.Lines, l)
			return r.row, nil
		}
		// What came to older lines first. Private parts of newer lines are
		// passed over by that, and go with their lines.
		later := []any{c.From.Private, c.To.Private, c.From.Line, most}
		err = each(ctx, q, queryLater, later, func(rows *sql.Rows) error {
			var n int64
			_, err := add(rows, &n)
			if errors.Is(err, errCutEnds) {
				c.To.Private = n - 1
			}
			return err
		})
		if errors.Is(err, errCutEnds) {
			c.To.Line = c.From.Line
			return nil
		}
		if err != nil {
			return err
		}
		if int64(len(c.Lines)) == most {
			c.To.Line = c.From.Line
			return q.QueryRowContext(ctx, queryLaterEnd, later...).Scan(&c.To.Private)
		}
		c.To.Line = min(c.To.Line, c.From.Line+most)
		err = each(ctx, q, queryFresh, []any{c.From.Line, c.To.Line}, func(rows *sql.Rows) error {
			row, err := add(rows)
			if errors.Is(err, errCutEnds) {
				c.To.Line = row - 1
			}
			return err
		})
		if errors.Is(err, errCutEnds) {
			return nil
		}
		return err
	})
	return c, err
}

// errCutEnds ends a cut before a line that cannot be carried yet.
var errCutEnds = errors.New("the cut ends here")

// destinations lists whatever was ever provided for.
func (s *Store) destinations(ctx context.Context) (names []string, err error) {
	err = s.read(ctx, "outbox", func(ctx context.Context, q querier) error {
		return each(ctx, q, "SELECT name FROM destination", nil, func(rows *sql.Rows) error {
			var name string
			err := rows.Scan(&name)
			names = append(names, name)
			return err
		})
	})
	return names, err
}

// More reports that a cut leaves something for the next one.
func (c Cut) More() bool { return c.From.Line != c.To.Line || c.From.Private != c.To.Private }

// Provide stores the parcels that were made of a cut, and that the destination
// is provided for up to its end, in one transaction. A parcel whose name is
// there already is known, and left as it is. It changes nothing, and answers
// false, where somebody else provided for the destination meanwhile.
func (o Outbox) Provide(ctx context.Context, destination string, c Cut, parcels []Parcel) (provided bool, err error) {
	err = o.s.write(ctx, "outbox", func(t *tx) error {
		var at Cursor
		if _, err := t.get(queryCursor, []any{destination}, &at.Line, &at.Private, &at.Destroyed); err != nil {
			return err
		}
		if at != c.From {
			return nil
		}
		provided = true
		for _, p := range parcels {
			if err := t.exec(`INSERT OR IGNORE INTO parcel (destination, name, sum, bytes, lines, line, private, state, tries, since, next, why)
				VALUES (?, ?, ?, ?, ?, ?, ?, 'waiting', 0, ?, 0, '')`, destination, p.Name, string(p.Sum), p.Bytes, p.Lines, c.From.Line, c.From.Private, p.Since); err != nil {
				return err
			}
		}
		return t.setCursor(destination, c.To)
	})
	return provided, err
}

func (t *tx) setCursor(destination string, c Cursor) error {
	return t.exec(`INSERT INTO destination (name, line, private, destroyed) VALUES (?1, ?2, ?3, ?4)
		ON CONFLICT (name) DO UPDATE SET line = ?2, private = ?3, destroyed = ?4`, destination, c.Line, c.Private, c.Destroyed)
}

// Open gives the parcels of a destination that are not confirmed, in the order
// in which they were cut.
func (o Outbox) Open(ctx context.Context, destination string) (all []Parcel, err error) {
	err = o.s.read(ctx, "outbox", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryOpen, []any{destination}, func(rows *sql.Rows) error {
			var p Parcel
			err := rows.Scan(&p.N, &p.Destination, &p.Name, &p.Sum, &p.Bytes, &p.Lines, &p.State, &p.Tries, &p.Since, &p.Next, &p.Why)
			all = append(all, p)
			return err
		})
	})
	return all, err
}

// Mark stores how far a parcel has come. What is confirmed stays confirmed.
func (o Outbox) Mark(ctx context.Context, p Parcel) error {
	return o.s.write(ctx, "outbox", func(t *tx) error {
		return t.exec("UPDATE parcel SET name = ?, state = ?, tries = ?, since = ?, next = ?, why = ? WHERE n = ? AND state <> 'confirmed'",
			p.Name, string(p.State), p.Tries, p.Since, p.Next, p.Why, p.N)
	})
}

// Standing is how a destination stands.
type Standing struct {
	Lines    int64 // lines that are not confirmed there, cut or not
	Waiting  int   // parcels
	Sent     int
	Refused  int
	Oldest   int64  // wall clock in ms of the state that has stood longest among these; 0: none
	Why      string // the last failure among them
	Finished int    // parcels confirmed
}

// Standing counts. Lines that are carried twice, since their private part came
// later, count twice until they are there.
func (o Outbox) Standing(ctx context.Context, destination string) (s Standing, err error) {
	err = o.s.read(ctx, "outbox", func(ctx context.Context, q querier) error {
		var at, to Cursor
		err := q.QueryRowContext(ctx, queryCursor, destination).Scan(&at.Line, &at.Private, &at.Destroyed)
		if err != nil && !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if err := q.QueryRowContext(ctx, queryHeads).Scan(&to.Line, &to.Private, &to.Destroyed); err != nil {
			return err
		}
		s.Lines = to.Line - at.Line
		if err := each(ctx, q, queryOpen, []any{destination}, func(rows *sql.Rows) error {
			var p Parcel
			if err := rows.Scan(&p.N, &p.Destination, &p.Name, &p.Sum, &p.Bytes, &p.Lines, &p.State, &p.Tries, &p.Since, &p.Next, &p.Why); err != nil {
				return err
			}
			s.Lines += p.Lines
			switch p.State {
			case ParcelSent:
				s.Sent++
			case ParcelRefused:
				s.Refused++
			default:
				s.Waiting++
			}
			if s.Oldest == 0 || p.Since < s.Oldest {
				s.Oldest = p.Since
			}
			if p.Why != "" {
				s.Why = p.Why
			}
			return nil
		}); err != nil {
			return err
		}
		var all int
		err = q.QueryRowContext(ctx, "SELECT count(*) FROM parcel WHERE destination = ?", destination).Scan(&all)
		s.Finished = all - s.Waiting - s.Sent - s.Refused
		return err
	})
	return s, err
}

// Recut throws away the parcels of a destination that are not confirmed, so
// that what is in them is cut anew, and answers whether there was reason to:
// private parts were destroyed since they were cut, and may be in them. With
// force it does so in any case.
func (o Outbox) Recut(ctx context.Context, destination string, force bool) (recut bool, err error) {
	var doomed []string
	err = o.s.write(ctx, "outbox", func(t *tx) error {
		var at, to Cursor
		known, err := t.get(queryCursor, []any{destination}, &at.Line, &at.Private, &at.Destroyed)
		if err != nil || !known {
			return err
		}
		if _, err := t.get(queryHeads, nil, &to.Line, &to.Private, &to.Destroyed); err != nil {
			return err
		}
		if at.Destroyed == to.Destroyed && !force {
			return nil
		}
		if doomed, err = t.texts("SELECT sum FROM parcel WHERE destination = ? AND state <> 'confirmed'", destination); err != nil {
			return err
		}
		back := at
		back.Destroyed = to.Destroyed
		if _, err := t.get("SELECT min(coalesce(min(line), ?2), ?2), min(coalesce(min(private), ?3), ?3) FROM parcel WHERE destination = ?1 AND state <> 'confirmed'",
			[]any{destination, at.Line, at.Private}, &back.Line, &back.Private); err != nil {
			return err
		}
		recut = len(doomed) > 0
		if err := t.exec("DELETE FROM parcel WHERE destination = ? AND state <> 'confirmed'", destination); err != nil {
			return err
		}
		return t.setCursor(destination, back)
	})
	if err != nil {
		return false, err
	}
	for _, sum := range doomed {
		if err := o.Drop(timeline.Hash(sum)); err != nil {
			return recut, err
		}
	}
	return recut, nil
}

// outFolder holds the bytes of parcels that are not confirmed.
const outFolder = "outbox"

func outPath(dir string, h timeline.Hash) string { return filepath.Join(dir, outFolder, string(h)) }

// Keep puts the bytes of a parcel on disk, sealed for this device where sealing
// was set up, and answers the SHA-256 of what is to be carried.
func (o Outbox) Keep(ctx context.Context, data []byte) (timeline.Hash, error) {
	s := o.s
	if s.readOnly {
		return "", ErrReadOnly
	}
	if err := ctx.Err(); err != nil {
		return "", err
	}
	h := Sum(data)
	data, err := s.sealFile(ctx, timeline.ScopeDevice, outFolder, h, data)
	if err != nil {
		return "", err
	}
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil {
		return "", s.gone
	}
	dir := filepath.Join(s.o.Dir, outFolder)
	if err := makeFolder(dir); err != nil {
		return "", fault("outbox", err)
	}
	if err := renameio.WriteFile(outPath(s.o.Dir, h), data, 0o600, renameio.WithTempDir(dir), renameio.IgnoreUmask()); err != nil {
		return "", fault("outbox", err)
	}
	return h, fault("outbox", syncFolder(dir))
}

// Bytes gives the bytes of a parcel. ErrNoBlob when they are not here; an
// *Error with the code damaged when they are not what was kept.
func (o Outbox) Bytes(h timeline.Hash) ([]byte, error) {
	s := o.s
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil {
		return nil, s.gone
	}
	if !h.Valid() {
		return nil, ErrNoBlob
	}
	data, err := os.ReadFile(outPath(s.o.Dir, h))
	if err == nil {
		data, err = s.openFile(h, data)
	}
	switch {
	case errors.Is(err, os.ErrNotExist), errors.Is(err, ErrSealed):
		return nil, ErrNoBlob // a key that is not at hand: it is cut anew
	case err != nil:
		return nil, fault("outbox", err)
	case Sum(data) != h:
		return nil, &Error{CodeDamaged, "outbox", errors.New("a parcel is not what was cut")}
	}
	return data, nil
}

// Drop removes the bytes of a parcel. They are no part of the record.
func (o Outbox) Drop(h timeline.Hash) error {
	if !h.Valid() {
		return nil
	}
	if err := os.Remove(outPath(o.s.o.Dir, h)); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fault("outbox", err)
	}
	return nil
}

// Sweep removes bytes that no open parcel has: of a cut that a process did not
// live to store, and of parcels that were confirmed just before it ended.
func (o Outbox) Sweep(ctx context.Context) error {
	entries, err := os.ReadDir(filepath.Join(o.s.o.Dir, outFolder))
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fault("outbox", err)
	}
	for _, e := range entries {
		var used bool
		err := o.s.read(ctx, "outbox", func(ctx context.Context, q querier) error {
			return q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM parcel WHERE sum = ? AND state <> 'confirmed')", e.Name()).Scan(&used)
		})
		if err != nil {
			return err
		}
		if used {
			continue
		}
		if err := os.Remove(filepath.Join(o.s.o.Dir, outFolder, e.Name())); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fault("outbox", err)
		}
	}
	return nil
}
