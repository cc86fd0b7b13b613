package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"

	"github.com/google/uuid"

	"chinlift/core/term"
	"chinlift/core/timeline"
)

// head is where the next line goes.
type head struct {
	log   string        // the log that this database writes; empty: none is open yet
	seq   int64         // its last number
	hash  timeline.Hash // hash of that line
	cause term.LogCause // why another log is to be opened; empty: the log goes on
	tick  int64         // highest stored anywhere
	rows  int64         // lines stored
}

// writer is the one connection that commits.
type writer struct {
	conn         *sql.Conn
	installation string
	entered      func() timeline.Entered
	stmts        map[string]*sql.Stmt
	head         head
	known        bool // head is what the database holds
	frames       func(*sql.Conn) (int, error)
	seals        *seals
}

func newWriter(ctx context.Context, pool *sql.DB, installation string, entered func() timeline.Entered, k *seals) (*writer, error) {
	conn, err := pool.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &writer{conn: conn, installation: installation, entered: entered, stmts: map[string]*sql.Stmt{}, frames: framesWritten, seals: k}
	err = migrate(ctx, conn, migrationFiles)
	if err == nil {
		err = w.load()
	}
	if err == nil {
		_, err = w.frames(conn) // count from here
	}
	if err != nil {
		return nil, errors.Join(err, w.close())
	}
	return w, nil
}

func (w *writer) close() error {
	var errs []error
	for _, s := range w.stmts {
		errs = append(errs, s.Close())
	}
	return errors.Join(append(errs, w.conn.Close())...)
}

// stmt gives a statement, prepared once. A write runs to its end, so that none
// of them takes a context that could end.
func (w *writer) stmt(query string) (*sql.Stmt, error) {
	if s, ok := w.stmts[query]; ok {
		return s, nil
	}
	s, err := w.conn.PrepareContext(context.Background(), query)
	if err != nil {
		return nil, err
	}
	w.stmts[query] = s
	return s, nil
}

// load reads the head from the database.
func (w *writer) load() error {
	t := &tx{w: w}
	var h head
	var installation, behind string
	for key, to := range map[string]*string{"log": &h.log, "installation": &installation, "behind": &behind} {
		if _, err := t.get("SELECT value FROM meta WHERE key = ?", []any{key}, to); err != nil {
			return err
		}
	}
	if _, err := t.get("SELECT coalesce(max(tick), 0) FROM line", nil, &h.tick); err != nil {
		return err
	}
	if _, err := t.get("SELECT coalesce(max(row), 0) FROM line", nil, &h.rows); err != nil {
		return err
	}
	var raw []byte
	found, err := t.get("SELECT seq, h FROM line WHERE log = ? ORDER BY seq DESC, row LIMIT 1", []any{h.log}, &h.seq, &raw)
	if err != nil {
		return err
	}
	h.hash = timeline.Hash(hex.EncodeToString(raw))
	switch {
	case !found:
		h.log, h.seq, h.hash, h.cause = "", 0, "", term.LogCauseNew
	case installation != w.installation:
		h.cause = term.LogCauseCopied
	case behind != "":
		h.cause = term.LogCauseRestored
	}
	w.head, w.known = h, true
	return nil
}

// tx is one transaction of the writer.
type tx struct {
	w         *writer
	head      head // as it is once the transaction is committed
	changed   bool
	destroyed bool // private parts were
	emptied   bool // the log is to be emptied, if nobody reads
	fresh     map[string]sealedUnder
	touched   map[string]touch
	frames    int // pages written to the write-ahead log
}

// do runs f in a transaction. One that changed nothing is rolled back, so that
// it costs no sync. After any error the head is read anew before the next.
func (w *writer) do(f func(*tx) error) (*tx, error) {
	if !w.known {
		if err := w.load(); err != nil {
			return nil, err
		}
	}
	t := &tx{w: w, head: w.head}
	if err := t.run("BEGIN IMMEDIATE"); err != nil {
		w.known = false
		return nil, err
	}
	err := f(t)
	if err == nil {
		err = t.list()
	}
	if err == nil && t.changed {
		err = t.run("COMMIT")
	} else {
		w.rollback(&err)
	}
	if err != nil {
		if t.changed {
			// A commit that failed may have left the transaction open.
			var ignored error
			w.rollback(&ignored)
		}
		w.known = false
		return nil, err
	}
	w.head = t.head
	// It stands, whatever the counter says; where it says nothing, a
	// checkpoint is due.
	if t.frames, err = w.frames(w.conn); err != nil {
		t.frames = checkpointAfter
	}
	return t, nil
}

// rollback keeps the first error: where a failed statement has already ended
// the transaction, there is none to roll back.
func (w *writer) rollback(err *error) {
	t := &tx{w: w}
	if e := t.run("ROLLBACK"); e != nil && *err == nil {
		*err = e
	}
}

// run runs a statement that is no change of content.
func (t *tx) run(query string, args ...any) error {
	s, err := t.w.stmt(query)
	if err != nil {
		return err
	}
	_, err = s.Exec(args...)
	return err
}

// exec runs a statement that changes content.
func (t *tx) exec(query string, args ...any) error {
	s, err := t.w.stmt(query)
	if err != nil {
		return err
	}
	r, err := s.Exec(args...)
	if err != nil {
		return err
	}
	n, err := r.RowsAffected()
	t.changed = t.changed || n > 0
	return err
}

// get reads one row, and says whether there was one.
func (t *tx) get(query string, args []any, into ...any) (bool, error) {
	s, err := t.w.stmt(query)
	if err != nil {
		return false, err
	}
	err = s.QueryRow(args...).Scan(into...)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, err
}

// texts reads a column of text.
func (t *tx) texts(query string, args ...any) ([]string, error) {
	s, err := t.w.stmt(query)
	if err != nil {
		return nil, err
	}
	rows, err := s.Query(args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []string
	for rows.Next() {
		var v string
		if err := rows.Scan(&v); err != nil {
			return nil, err
		}
		all = append(all, v)
	}
	return all, rows.Err()
}

// Append writes the drafts as lines, in their order and in one transaction,
// and answers once they are on disk. A draft whose id is already stored is a
// retry: the stored line is answered, and nothing is written for it. Where it
// says something else than the stored line, it is none, and is refused: a
// *timeline.FieldError with field id and code contradiction; see retries for
// what may differ. Answers a *timeline.FieldError also for a draft that may
// not be written, and an *Error when the device could not write; in all these
// cases nothing was written. One exception: a destruction that answers
// CodeBusy is stored, with its lines answered, and somebody who reads the
// database keeps the bytes in the write-ahead log. Append it again; or closing
// or suspending the store finishes it.
func (s *Store) Append(ctx context.Context, drafts ...timeline.Draft) ([]*timeline.Line, error) {
	return s.AppendWith(ctx, nil, drafts...)
}

// AppendWith is Append that keeps settings of this device in the same
// transaction, as SetLocal does one: either all of it is kept or nothing. They
// are kept also where every draft is a retry.
func (s *Store) AppendWith(ctx context.Context, local map[string]string, drafts ...timeline.Draft) ([]*timeline.Line, error) {
	lines, err := s.append(ctx, local, drafts)
	if isFull(err) && s.reserve.spend() {
		lines, err = s.append(ctx, local, drafts)
	}
	return lines, err
}

func (s *Store) append(ctx context.Context, local map[string]string, drafts []timeline.Draft) ([]*timeline.Line, error) {
	var lines []*timeline.Line
	err := s.write(ctx, "append", func(t *tx) error {
		for key, value := range local {
			if err := t.setLocal(key, value); err != nil {
				return err
			}
		}
		for i := range drafts {
			l, err := t.append(&drafts[i])
			if err != nil {
				return err
			}
			lines = append(lines, l)
		}
		return nil
	})
	if err != nil && !committed(err) {
		return nil, err
	}
	return lines, err
}

func (t *tx) append(d *timeline.Draft) (*timeline.Line, error) {
	l, err := t.byID(d.ID)
	if err != nil {
		return nil, err
	}
	if l != nil {
		if err := retries(l, d); err != nil {
			return nil, err
		}
		// The first try may have been committed without being finished.
		if _, ok := l.Payload.(*timeline.IdentityDestroyed); ok {
			t.destroyed = true
		}
		return l, nil
	}
	if t.head.cause != "" {
		if err := t.openLog(); err != nil {
			return nil, err
		}
	}
	return t.seal(d)
}

// seal gives the draft the next place and stores it.
func (t *tx) seal(d *timeline.Draft) (*timeline.Line, error) {
	l, err := d.Seal(t.head.log, t.head.seq+1, t.head.tick+1, t.head.hash)
	if err != nil {
		return nil, err
	}
	if _, err := t.insert(&l, false); err != nil {
		return nil, err
	}
	t.head.seq, t.head.hash = l.Event.Seq, l.H
	return &l, nil
}

// byID gives the stored line with this id, the first in entry order, or nil.
func (t *tx) byID(id string) (*timeline.Line, error) {
	var r stored
	found, err := t.get("SELECT "+columns+tables+" WHERE line.id = ? ORDER BY line.tick, line.log, line.seq, line.h LIMIT 1", []any{id}, r.into()...)
	if !found {
		return nil, err
	}
	return r.line(t.w.seals)
}

// openLog writes the line that begins a log.
func (t *tx) openLog() error {
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	log, err := uuid.NewRandom()
	if err != nil {
		return err
	}
	opened := &timeline.LogOpened{Cause: t.head.cause}
	if t.head.log != "" {
		opened.Cites, opened.At, opened.Head = t.head.log, t.head.seq, t.head.hash
	}
	now := t.w.entered()
	t.head.log, t.head.seq, t.head.hash, t.head.cause = log.String(), 0, timeline.NoHash, ""
	for _, kv := range [][2]string{{"log", t.head.log}, {"installation", t.w.installation}} {
		if err := t.exec("INSERT INTO meta (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2", kv[0], kv[1]); err != nil {
			return err
		}
	}
	if err := t.exec("DELETE FROM meta WHERE key = 'behind'"); err != nil {
		return err
	}
	_, err = t.seal(&timeline.Draft{
		ID: id.String(), Scope: timeline.ScopeDevice, About: t.head.log,
		At: now.Wall, Entered: now, Author: uuid.Nil.String(), Payload: opened,
	})
	return err
}

// insert stores a line that is not stored yet, and gives the cases that it
// concerns; it may be known that this is its own alone. A private part that was
// destroyed is taken off the line.
func (t *tx) insert(l *timeline.Line, alone bool) (cases []string, err error) {
	ev := &l.Event
	row := t.head.rows + 1
	h, err := hex.DecodeString(string(l.H))
	if err != nil {
		return nil, err
	}
	err = t.exec("INSERT INTO line (row, id, log, seq, tick, scope, about, kind, amends, e, h) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
		row, ev.ID, ev.Log, ev.Seq, ev.Tick, string(ev.Scope), ev.About, string(ev.Kind), sql.NullString{String: ev.Amends, Valid: ev.Amends != ""}, l.E, h)
	if err != nil {
		return nil, err
	}
	t.head.rows = row
	t.head.tick = max(t.head.tick, ev.Tick)
	if l.P != nil {
		kept, err := t.insertPrivate(row, h, l)
		if err != nil {
			return nil, err
		}
		if !kept {
			*l = l.WithoutPrivate()
		}
	}
	if d, ok := l.Payload.(*timeline.IdentityDestroyed); ok {
		if err := t.destroy(d.Events); err != nil {
			return nil, err
		}
	}
	return t.touch(row, ev, alone)
}

// insertPrivate stores the private part of a line, sealed where sealing was set
// up, unless it was destroyed.
func (t *tx) insertPrivate(row int64, h []byte, l *timeline.Line) (kept bool, err error) {
	var gone bool
	if _, err := t.get("SELECT EXISTS (SELECT 1 FROM destroyed WHERE id = ?)", []any{l.Event.ID}, &gone); err != nil || gone {
		return false, err
	}
	p, seal := l.P, sql.NullInt64{}
	u, err := t.sealUnder(l.Event.Scope, l.Event.About, true)
	if err == nil {
		if p, err = u.key.Seal(l.P, boundTo(h)); err != nil {
			return false, err
		}
		seal = sql.NullInt64{Int64: u.n, Valid: true}
	} else if !errors.Is(err, ErrNoVault) {
		return false, err
	}
	if photo, err := hex.DecodeString(l.Private[timeline.PrivatePhoto]); err == nil && len(photo) == sha256.Size {
		if err := t.exec("INSERT INTO photo (row, hash) VALUES (?, ?)", row, photo); err != nil {
			return false, err
		}
	}
	return true, t.exec("INSERT INTO private (row, p, seal) VALUES (?, ?, ?)", row, p, seal)
}

// destroy overwrites the private parts of these events. They are named even
// when they are not here: they may come later, and must then be kept out.
func (t *tx) destroy(ids []string) error {
	const these = "p >= x'01' AND row IN (SELECT row FROM line WHERE id = ?1)"
	const photos = "hash <> zeroblob(32) AND row IN (SELECT row FROM line WHERE id = ?1)"
	for _, id := range ids {
		if err := t.exec("INSERT OR IGNORE INTO destroyed (id) VALUES (?)", id); err != nil {
			return err
		}
		// What a sealed part names is known without opening it.
		if err := t.exec("INSERT OR IGNORE INTO doomed (hash) SELECT lower(hex(hash)) FROM photo WHERE "+photos, id); err != nil {
			return err
		}
		if err := t.exec("UPDATE photo SET hash = zeroblob(32) WHERE "+photos, id); err != nil {
			return err
		}
		if err := t.exec("UPDATE private SET p = zeroblob(length(p)) WHERE "+these, id); err != nil {
			return err
		}
	}
	t.destroyed = true
	return nil
}

// touch keeps the list of cases: the case that the line is about, and those
// that an entry stands or stood in which the line corrects, or is the root of;
// and the same of whatever claims its number or its id, which the fold sets
// aside from now on.
func (t *tx) touch(row int64, ev *timeline.Event, alone bool) (cases []string, err error) {
	switch {
	case !alone:
		if cases, err = t.texts(queryTouches, ev.Log, ev.Seq, ev.ID); err != nil {
			return nil, err
		}
	case ev.Scope == timeline.ScopeCase:
		cases = []string{ev.About}
	}
	for _, id := range cases {
		u, seen := t.touched[id]
		if u.touched = row; id == ev.About && ev.Scope == timeline.ScopeCase {
			if u.last = row; u.first == 0 {
				u.first = row
			}
		}
		if !seen && t.touched == nil {
			t.touched = map[string]touch{}
		}
		t.touched[id] = u
	}
	return cases, nil
}

// touch is what the list of cases is to say: rows. first and last are 0 where
// no line about the case came.
type touch struct{ first, last, touched int64 }

// list writes what touch found, once for each case however many lines came.
func (t *tx) list() error {
	for id, u := range t.touched {
		var err error
		if u.last > 0 {
			err = t.exec("INSERT INTO cases (id, first, last, touched, settled) VALUES (?1, ?2, ?3, ?4, 0) ON CONFLICT (id) DO UPDATE SET last = ?3, touched = ?4", id, u.first, u.last, u.touched)
		} else {
			err = t.exec("UPDATE cases SET touched = ?2 WHERE id = ?1", id, u.touched)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// Settle notes that cases were found closed, so that Unsettled leaves them out
// until a line touches them again. It may be lost; a case is then found closed
// once more.
func (s *Store) Settle(ctx context.Context, caseIDs ...string) error {
	if len(caseIDs) == 0 {
		return nil
	}
	return s.write(ctx, "settle", func(t *tx) error {
		for _, id := range caseIDs {
			if err := t.exec("UPDATE cases SET settled = touched WHERE id = ? AND settled < touched", id); err != nil {
				return err
			}
		}
		return nil
	})
}

// stored is a row as it is read.
type stored struct {
	row           int64
	e, p, h       []byte
	seal          sql.NullInt64 // number of the key that p is sealed with
	wrapped, kept []byte        // that key
}

// What stored reads, and where from.
const (
	columns  = "line.row, line.e, private.p, line.h, private.seal, seal.wrapped, seal.kept"
	withPart = " LEFT JOIN private ON private.row = line.row AND private.p >= x'01' LEFT JOIN seal ON seal.n = private.seal"
	tables   = " FROM line" + withPart
)

func (r *stored) into() []any {
	return []any{&r.row, &r.e, &r.p, &r.h, &r.seal, &r.wrapped, &r.kept}
}

// line makes the line of the row. One whose private part cannot be opened now
// says that it is sealed.
func (r *stored) line(k *seals) (*timeline.Line, error) { return r.with(k, timeline.ReadLine) }

// bare is line without the payload, see timeline.ReadBare.
func (r *stored) bare(k *seals) (*timeline.Line, error) { return r.with(k, timeline.ReadBare) }

func (r *stored) with(k *seals, read func(e, p []byte, h timeline.Hash) (timeline.Line, error)) (*timeline.Line, error) {
	p, sealed, err := k.open(r)
	if err != nil && !errors.Is(err, errNotOpened) {
		return nil, err
	}
	l, err := read(r.e, p, timeline.Hash(hex.EncodeToString(r.h)))
	if err != nil {
		return nil, &Error{CodeDamaged, "read", fmt.Errorf("row %d: %w", r.row, err)}
	}
	l.Sealed = sealed
	return &l, nil
}
