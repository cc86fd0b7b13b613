package store

import (
	"context"
	"database/sql"
	"encoding/hex"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// Met says what a merge would do.
type Met struct {
	New          int      // lines that are not here
	Known        int      // lines that are
	PrivateAdded int      // known lines that would get their private part
	Forks        int      // new lines that claim a number or an id that a line here claims
	Refused      int      // lines that are not what was written
	NewCases     []string // cases of which nothing is here, sorted

	// Unchained names the lines before new ones, where another is here in their
	// place.
	Unchained []timeline.Hash
}

// queryWhole finds whether a line has its private part, or no longer may.
const queryWhole = "SELECT EXISTS (SELECT 1 FROM line JOIN private USING (row) WHERE line.h = ?1 AND private.p >= x'01') OR EXISTS (SELECT 1 FROM destroyed WHERE id = ?2)"

// queryUnchained finds whether the place before a line is taken, and not by the
// line that it names.
const queryUnchained = `SELECT EXISTS (SELECT 1 FROM line WHERE log = ?1 AND seq = ?2) AND NOT EXISTS (SELECT 1 FROM line WHERE log = ?1 AND seq = ?2 AND h = ?3)`

// Meet looks at lines from elsewhere as Merge would, and changes nothing. It
// knows what is stored, not what the lines say against each other.
func (s *Store) Meet(ctx context.Context, lines []*timeline.Line) (m Met, err error) {
	fresh := map[string]bool{}
	err = s.read(ctx, "meet", func(ctx context.Context, q querier) error {
		for _, l := range lines {
			if sound(l) != nil {
				m.Refused++
				continue
			}
			if err := m.line(ctx, q, l, fresh); err != nil {
				return err
			}
		}
		return nil
	})
	m.NewCases = sortedKeys(fresh)
	return m, err
}

func (m *Met) line(ctx context.Context, q querier, l *timeline.Line, fresh map[string]bool) error {
	h, err := hex.DecodeString(string(l.H))
	if err != nil {
		return err
	}
	var row sql.NullInt64
	var fork, awaited, held bool
	if err := q.QueryRowContext(ctx, queryMet, h, l.Event.Log, l.Event.Seq, l.Event.ID).Scan(&row, &fork, &awaited); err != nil {
		return err
	}
	if row.Valid {
		m.Known++
		if l.P == nil {
			return nil
		}
		if err := q.QueryRowContext(ctx, queryWhole, h, l.Event.ID).Scan(&held); err == nil && !held {
			m.PrivateAdded++
		}
		return err
	}
	m.New++
	if fork {
		m.Forks++
	}
	prev, err := hex.DecodeString(string(l.Event.Prev))
	if err != nil {
		return err
	}
	if err := q.QueryRowContext(ctx, queryUnchained, l.Event.Log, l.Event.Seq-1, prev).Scan(&held); err != nil {
		return err
	}
	if held {
		m.Unchained = append(m.Unchained, l.Event.Prev)
	}
	if id := l.Event.About; l.Event.Scope == timeline.ScopeCase && !fresh[id] {
		if err := q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM cases WHERE id = ?)", id).Scan(&held); err != nil {
			return err
		}
		if !held {
			fresh[id] = true
		}
	}
	return nil
}

// Last gives the last line of the log of the database, whether or not this
// device may go on in it; the zero Head where nothing was ever written.
func (s *Store) Last() Head {
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil || s.readOnly {
		return Head{}
	}
	s.db.mu.Lock()
	defer s.db.mu.Unlock()
	return Head{s.db.w.head.log, s.db.w.head.seq, s.db.w.head.hash}
}

// Succeed opens the log of a device in which nothing was written yet as the one
// that follows a lost device's: it cites the head up to which that is here. It
// answers false where this device has a log already, which simply goes on, and
// where the head is not stored here.
func (s *Store) Succeed(ctx context.Context, old Head) (opened bool, err error) {
	raw, err := hex.DecodeString(string(old.Hash))
	if err != nil || old.Seq < 1 {
		return false, nil //nolint:nilerr // there is nothing to cite
	}
	err = s.write(ctx, "append", func(t *tx) error {
		opened = false
		if t.head.cause != term.LogCauseNew {
			return nil
		}
		held := false
		if _, err := t.get("SELECT EXISTS (SELECT 1 FROM line WHERE log = ? AND seq = ? AND h = ?)", []any{old.Log, old.Seq, raw}, &held); err != nil || !held {
			return err
		}
		t.head.log, t.head.seq, t.head.hash, t.head.cause = old.Log, old.Seq, old.Hash, term.LogCauseCopied
		opened = true
		return t.openLog()
	})
	return opened, err
}
