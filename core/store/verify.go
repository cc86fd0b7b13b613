package store

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"chinlift/core/timeline"
)

// Report is what a check found.
type Report struct {
	Lines      int
	Logs       int
	Continuity string // whole: every log is here from its first line on; not-known: a part, such as one case
	Findings   []Finding
	Sealed     int // lines whose private part is sealed, and was not held against its commitment
}

// The values of Report.Continuity.
const (
	ContinuityWhole    = "whole"
	ContinuityNotKnown = "not-known"
)

// Finding is one thing that is wrong, and where.
type Finding struct {
	// Code is one of:
	//
	//	sqlite         the database itself is damaged
	//	foreign-key    a private part belongs to no line
	//	rows-missing   lines were taken out of the database
	//	unlisted       a case is missing from the list of cases
	//	columns        what the database finds a line by is not what the line says
	//	not-readable   the line is not in the form of one
	//	damaged        the line does not match its hash
	//	commitment     the private part does not match its commitment
	//	not-destroyed  the private part should be gone
	//	private-lost   the private part is gone, and nobody destroyed it
	//	gap            numbers are missing in a log
	//	broken-chain   the line before is not the one that the line names
	//	fork           another line claims the same number
	//	same-id        another line claims the same id
	//	tick           the tick does not rise within the log
	//	cites          the line that a log cites is not the one that is here
	//	blob-missing   a file that an event names is not here
	//	blob-damaged   a file is not what was kept
	Code   string
	Log    string
	Seq    int64
	ID     string
	Detail string
}

// check walks lines in the order of log and number.
type check struct {
	r       Report
	here    []link // lines that claim the number where the walk stands
	before  []link // lines that claim the one before; nil where it is not here
	tick    int64  // highest tick of the log before this number
	opened  []*timeline.Line
	gapCode string // what a gap is found as; empty: it only leaves continuity unknown
}

// link is what the next line of a log is held against.
type link struct {
	log  string
	seq  int64
	tick int64
	h    timeline.Hash
}

func (c *check) find(k link, id, code, detail string) {
	c.r.Findings = append(c.r.Findings, Finding{code, k.log, k.seq, id, detail})
}

// step goes on to a number of a log, which a line claims.
func (c *check) step(k link, id string) {
	c.r.Lines++
	switch {
	case len(c.here) > 0 && c.here[0].log == k.log && c.here[0].seq == k.seq:
		c.find(k, id, "fork", "another line claims this number")
		c.here = append(c.here, k)
		return
	case len(c.here) > 0 && c.here[0].log == k.log:
		c.before = c.here
	default:
		c.r.Logs++
		c.before, c.tick = []link{{log: k.log, h: timeline.NoHash}}, 0
	}
	for _, b := range c.before {
		c.tick = max(c.tick, b.tick)
	}
	if next := c.before[0].seq + 1; next != k.seq {
		c.r.Continuity = ContinuityNotKnown
		if c.gapCode != "" {
			c.find(link{log: k.log, seq: next}, "", c.gapCode, fmt.Sprintf("numbers %d to %d are missing", next, k.seq-1))
		}
		c.before = nil
	}
	c.here = []link{k}
}

// line checks a line at the number to which step has gone.
func (c *check) line(l *timeline.Line) {
	ev := &l.Event
	k := link{ev.Log, ev.Seq, ev.Tick, l.H}
	c.own(k, l)
	if c.before != nil && !slices.ContainsFunc(c.before, func(b link) bool { return b.h == ev.Prev }) {
		c.find(k, ev.ID, "broken-chain", "the line before is not the one that it names")
	}
	if ev.Tick <= c.tick {
		c.find(k, ev.ID, "tick", fmt.Sprintf("tick %d does not follow %d", ev.Tick, c.tick))
	}
	if p, ok := l.Payload.(*timeline.LogOpened); ok && p.Cites != "" {
		c.opened = append(c.opened, l)
	}
}

// own checks a line by itself.
func (c *check) own(k link, l *timeline.Line) {
	if h, err := timeline.LineHash(l.Event.Prev, l.E); err != nil || h != l.H {
		c.find(k, l.Event.ID, "damaged", "the line does not match its hash")
	}
	if l.P != nil && timeline.Commitment(l.P) != l.Event.Private {
		c.find(k, l.Event.ID, "commitment", "the private part does not match its commitment")
	}
}

// cites checks what a log cites against the lines that claim the number here.
// What is not here cannot be checked.
func (c *check) cites(l *timeline.Line, here []timeline.Hash) {
	p := l.Payload.(*timeline.LogOpened)
	if len(here) > 0 && !slices.Contains(here, p.Head) {
		c.find(link{log: l.Event.Log, seq: l.Event.Seq}, l.Event.ID, "cites", "the line that the log cites is not the one that is here")
	}
}

// VerifyLines checks lines by themselves, as those of an exported file. Where
// a log is not here from its first line on without a gap, its continuity is
// not known; that is no fault of a file that holds one case.
func VerifyLines(lines []*timeline.Line) Report {
	sorted := slices.Clone(lines)
	slices.SortStableFunc(sorted, func(a, b *timeline.Line) int {
		return cmp.Or(cmp.Compare(a.Event.Log, b.Event.Log), cmp.Compare(a.Event.Seq, b.Event.Seq),
			cmp.Compare(a.H, b.H), bytes.Compare(a.E, b.E), bytes.Compare(b.P, a.P))
	})
	// A line may come twice, and without its private part; but a copy that
	// differs was altered, whatever hash it bears.
	sorted = slices.CompactFunc(sorted, func(a, b *timeline.Line) bool {
		return a.H == b.H && bytes.Equal(a.E, b.E) && (b.P == nil || bytes.Equal(a.P, b.P))
	})

	type place struct {
		log string
		seq int64
	}
	c := check{r: Report{Continuity: ContinuityWhole}}
	at := map[place][]timeline.Hash{}
	ids := map[string]link{}
	for i, l := range sorted {
		ev := &l.Event
		k := link{ev.Log, ev.Seq, ev.Tick, l.H}
		if i > 0 && sorted[i-1].H == l.H && sorted[i-1].Event.Log == ev.Log && sorted[i-1].Event.Seq == ev.Seq {
			c.own(k, l) // a copy, which claims nothing of its own
			continue
		}
		c.step(k, ev.ID)
		c.line(l)
		at[place{ev.Log, ev.Seq}] = append(at[place{ev.Log, ev.Seq}], l.H)
		if other, ok := ids[ev.ID]; ok {
			c.find(k, ev.ID, "same-id", fmt.Sprintf("log %s, number %d has this id too", other.log, other.seq))
		}
		ids[ev.ID] = k
	}
	for _, l := range c.opened {
		p := l.Payload.(*timeline.LogOpened)
		c.cites(l, at[place{p.Cites, p.At}])
	}
	return c.r
}

// verifyPage is how many lines Verify holds at a time.
const verifyPage = 500

// The queries of Verify.
const (
	queryChain = "SELECT " + columns + ", line.id, line.log, line.seq, line.tick, line.scope, line.about, line.kind, coalesce(line.amends, '')" + tables +
		" WHERE (line.log, line.seq, line.row) > (?1, ?2, ?3) AND line.row <= ?4 ORDER BY line.log, line.seq, line.row LIMIT ?5"
	queryPlace = "SELECT h FROM line WHERE log = ? AND seq = ?"
	// Rows are numbered without a gap and never deleted.
	queryMissing  = "SELECT 'rows-missing', '', 0, '', (max(row) - count(*)) || ' lines are missing' FROM line HAVING max(row) <> count(*)"
	queryForeign  = `SELECT 'foreign-key', '', 0, '', "table" || ', row ' || rowid FROM pragma_foreign_key_check`
	queryUnlisted = "SELECT DISTINCT 'unlisted', '', 0, '', about FROM line WHERE scope = 'case' AND about NOT IN (SELECT id FROM cases)"
	querySameID   = "SELECT 'same-id', log, seq, id, 'another line has this id' FROM line WHERE id IN (SELECT id FROM line GROUP BY id HAVING count(*) > 1)"
	queryNotGone  = "SELECT 'not-destroyed', log, seq, id, 'the private part is still here' FROM destroyed JOIN line USING (id) JOIN private USING (row) WHERE p >= x'01'"
	queryLost     = "SELECT 'private-lost', log, seq, id, 'zeros stand where it was' FROM private JOIN line USING (row) WHERE p < x'01' AND id NOT IN (SELECT id FROM destroyed)" +
		" AND NOT EXISTS (SELECT 1 FROM private AS live WHERE live.row = private.row AND live.p >= x'01')"
)

// Verify checks the whole folder: SQLite's own integrity, every hash, chain
// and commitment, forks, what was destroyed, and the files that events name.
// In the folder of a device every log should be whole, so a gap is a finding.
// It holds a few hundred lines at a time. Lines that come while it runs are
// left for the next.
func (s *Store) Verify(ctx context.Context) (Report, error) {
	c := check{r: Report{Continuity: ContinuityWhole}, gapCode: "gap"}
	var last int64
	err := s.read(ctx, "verify", func(ctx context.Context, q querier) error {
		err := each(ctx, q, "PRAGMA integrity_check", nil, func(rows *sql.Rows) error {
			var text string
			err := rows.Scan(&text)
			if err == nil && text != "ok" {
				c.find(link{}, "", "sqlite", text)
			}
			return err
		})
		if err != nil {
			return err
		}
		for _, query := range []string{queryForeign, queryMissing, queryUnlisted, querySameID, queryNotGone, queryLost} {
			err := each(ctx, q, query, nil, func(rows *sql.Rows) error {
				var f Finding
				err := rows.Scan(&f.Code, &f.Log, &f.Seq, &f.ID, &f.Detail)
				c.r.Findings = append(c.r.Findings, f)
				return err
			})
			if err != nil {
				return err
			}
		}
		last, err = countLines(ctx, q)
		return err
	})
	if err != nil {
		return Report{}, err
	}
	if err := s.verifyChains(ctx, &c, last); err != nil {
		return Report{}, err
	}
	for _, l := range c.opened {
		p := l.Payload.(*timeline.LogOpened)
		var here []timeline.Hash
		err := s.read(ctx, "verify", func(ctx context.Context, q querier) error {
			return each(ctx, q, queryPlace, []any{p.Cites, p.At}, func(rows *sql.Rows) error {
				var h []byte
				err := rows.Scan(&h)
				here = append(here, timeline.Hash(hex.EncodeToString(h)))
				return err
			})
		})
		if err != nil {
			return Report{}, err
		}
		c.cites(l, here)
	}
	return c.r, nil
}

// indexed is a row with the columns that lines are found by.
type indexed struct {
	stored
	id, scope, about, kind, amends string
	link
}

func (s *Store) verifyChains(ctx context.Context, c *check, last int64) error {
	looked := map[timeline.Hash]bool{}
	at := indexed{}
	for {
		var page []indexed
		err := s.read(ctx, "verify", func(ctx context.Context, q querier) error {
			return each(ctx, q, queryChain, []any{at.log, at.seq, at.row, last, verifyPage}, func(rows *sql.Rows) error {
				var r indexed
				err := rows.Scan(append(r.into(), &r.id, &r.log, &r.seq, &r.tick, &r.scope, &r.about, &r.kind, &r.amends)...)
				r.link.h = timeline.Hash(hex.EncodeToString(r.stored.h))
				page = append(page, r)
				return err
			})
		})
		if err != nil {
			return err
		}
		for i := range page {
			if err := s.verifyRow(c, &page[i], looked); err != nil {
				return err
			}
		}
		if len(page) < verifyPage {
			return nil
		}
		at = page[len(page)-1]
	}
}

// verifyRow checks one row: as a line, by its columns, and the files that it
// names.
func (s *Store) verifyRow(c *check, r *indexed, looked map[timeline.Hash]bool) error {
	c.step(r.link, r.id)
	l, err := r.line(&s.seals)
	if err != nil {
		c.find(r.link, r.id, "not-readable", err.Error())
		return nil
	}
	ev := &l.Event
	if ev.ID != r.id || ev.Log != r.log || ev.Seq != r.seq || ev.Tick != r.tick || string(ev.Scope) != r.scope ||
		ev.About != r.about || string(ev.Kind) != r.kind || ev.Amends != r.amends {
		c.find(r.link, r.id, "columns", fmt.Sprintf("row %d is not filed as what the line says", r.row))
	}
	c.line(l)
	if l.Sealed {
		c.r.Sealed++
		if _, _, err := s.seals.open(&r.stored); err != nil {
			c.find(r.link, ev.ID, "commitment", err.Error())
		}
	}
	var names []timeline.Hash
	if p, ok := l.Payload.(*timeline.ClinicSetting); ok && p.Blob != "" {
		names = append(names, p.Blob)
	}
	if h := l.Private[timeline.PrivatePhoto]; h != "" {
		names = append(names, timeline.Hash(h))
	}
	for _, h := range names {
		if looked[h] {
			continue
		}
		looked[h] = true
		var e *Error
		_, err := s.Blob(h)
		switch {
		case err == nil:
		case errors.Is(err, ErrSealed):
		case errors.Is(err, ErrNoBlob):
			c.find(r.link, ev.ID, "blob-missing", string(h))
		case errors.As(err, &e):
			c.find(r.link, ev.ID, "blob-damaged", err.Error())
		default:
			return err
		}
	}
	return nil
}
