package store

import (
	"cmp"
	"context"
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
}

// The values of Report.Continuity.
const (
	ContinuityWhole    = "whole"
	ContinuityNotKnown = "not-known"
)

// Finding is one thing that is wrong, and where.
type Finding struct {
	Code   string // damaged, commitment, gap, broken-chain, fork, same-id, tick, cites, sqlite, foreign-key, blob-missing, blob-damaged, not-readable
	Log    string
	Seq    int64
	ID     string
	Detail string
}

// VerifyLines checks lines by themselves, as those of an exported file. Where
// a log is not here from its first line on without a gap, its continuity is
// not known; that is no fault of a file that holds one case.
func VerifyLines(lines []*timeline.Line) Report {
	r := Report{Lines: len(lines), Continuity: ContinuityWhole}
	sorted := slices.Clone(lines)
	slices.SortStableFunc(sorted, func(a, b *timeline.Line) int {
		return cmp.Or(cmp.Compare(a.Event.Log, b.Event.Log), cmp.Compare(a.Event.Seq, b.Event.Seq), cmp.Compare(a.H, b.H))
	})
	sorted = slices.CompactFunc(sorted, func(a, b *timeline.Line) bool { return a.H == b.H })
	find := func(l *timeline.Line, code, detail string) {
		r.Findings = append(r.Findings, Finding{code, l.Event.Log, l.Event.Seq, l.Event.ID, detail})
	}
	ids := map[string]*timeline.Line{}
	places := map[string]map[int64]*timeline.Line{}
	for i, l := range sorted {
		ev := &l.Event
		if h, err := timeline.LineHash(ev.Prev, l.E); err != nil || h != l.H {
			find(l, "damaged", "the line does not match its hash")
		}
		if l.P != nil && timeline.Commitment(l.P) != ev.Private {
			find(l, "commitment", "the private part does not match its commitment")
		}
		if old := ids[ev.ID]; old != nil {
			find(l, "same-id", fmt.Sprintf("log %s, number %d has this id too", old.Event.Log, old.Event.Seq))
		}
		ids[ev.ID] = l
		if places[ev.Log] == nil {
			places[ev.Log] = map[int64]*timeline.Line{}
			r.Logs++
		}
		before := places[ev.Log][ev.Seq-1]
		switch {
		case places[ev.Log][ev.Seq] != nil:
			find(l, "fork", "another line claims this number")
		case ev.Seq == 1:
			if ev.Prev != timeline.NoHash {
				find(l, "broken-chain", "the first line names a line before it")
			}
		case before == nil:
			r.Continuity = ContinuityNotKnown
		case before.H != ev.Prev:
			// After a fork the line follows one of the two that claim the number.
			if !slices.ContainsFunc(sorted[:i], func(o *timeline.Line) bool { return o.H == ev.Prev }) {
				find(l, "broken-chain", "the line before is not the one that it names")
			}
		}
		if before != nil && before.Event.Tick >= ev.Tick {
			find(l, "tick", fmt.Sprintf("tick %d does not follow %d", ev.Tick, before.Event.Tick))
		}
		places[ev.Log][ev.Seq] = l
	}
	for _, l := range sorted {
		p, ok := l.Payload.(*timeline.LogOpened)
		if !ok || p.Cites == "" {
			continue
		}
		if cited := places[p.Cites][p.At]; cited != nil && cited.H != p.Head {
			find(l, "cites", "the line that the log cites is not the one that is here")
		}
	}
	return r
}

// Verify checks the whole folder: SQLite's own integrity, every hash, chain
// and commitment, forks, and the files that events name. In the folder of a
// device every log should be whole, so a gap is a finding.
func (s *Store) Verify(ctx context.Context) (Report, error) {
	var lines []*timeline.Line
	var findings []Finding
	db, err := s.reader()
	if err != nil {
		return Report{}, err
	}
	rows, err := db.QueryContext(ctx, `PRAGMA integrity_check`)
	if err != nil {
		return Report{}, fault("verify", err)
	}
	defer rows.Close()
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return Report{}, fault("verify", err)
		}
		if text != "ok" {
			findings = append(findings, Finding{Code: "sqlite", Detail: text})
		}
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return Report{}, fault("verify", err)
	}
	var broken int
	if err := db.QueryRowContext(ctx, `SELECT count(*) FROM pragma_foreign_key_check`).Scan(&broken); err != nil {
		return Report{}, fault("verify", err)
	}
	if broken > 0 {
		findings = append(findings, Finding{Code: "foreign-key", Detail: fmt.Sprintf("%d private parts belong to no line", broken)})
	}
	all, err := db.QueryContext(ctx, columns+`ORDER BY row`)
	if err != nil {
		return Report{}, fault("verify", err)
	}
	defer all.Close()
	for all.Next() {
		var e, p []byte
		var h timeline.Hash
		if err := all.Scan(&e, &p, &h); err != nil {
			return Report{}, fault("verify", err)
		}
		l, err := timeline.ReadLine(e, p, h)
		if err != nil {
			findings = append(findings, Finding{Code: "not-readable", Detail: fmt.Sprintf("line with hash %s: %v", h, err)})
			continue
		}
		lines = append(lines, &l)
	}
	if err := all.Err(); err != nil {
		return Report{}, fault("verify", err)
	}
	r := VerifyLines(lines)
	r.Lines += len(findings) // lines that could not be read were there too
	r.Findings = append(findings, r.Findings...)
	r.Findings = append(r.Findings, gaps(lines)...)
	r.Findings = append(r.Findings, s.blobFindings(lines)...)
	r.Lines = len(lines)
	return r, nil
}

// gaps finds numbers that are missing within a log.
func gaps(lines []*timeline.Line) []Finding {
	seqs := map[string][]int64{}
	for _, l := range lines {
		seqs[l.Event.Log] = append(seqs[l.Event.Log], l.Event.Seq)
	}
	var found []Finding
	for log, ns := range seqs {
		slices.Sort(ns)
		next := int64(1)
		for _, n := range slices.Compact(ns) {
			if n > next {
				found = append(found, Finding{Code: "gap", Log: log, Seq: next, Detail: fmt.Sprintf("numbers %d to %d are missing", next, n-1)})
			}
			next = n + 1
		}
	}
	slices.SortFunc(found, func(a, b Finding) int { return cmp.Or(cmp.Compare(a.Log, b.Log), cmp.Compare(a.Seq, b.Seq)) })
	return found
}

// blobFindings looks for the files that events name.
func (s *Store) blobFindings(lines []*timeline.Line) []Finding {
	var found []Finding
	look := func(l *timeline.Line, h timeline.Hash) {
		_, err := s.Blob(h)
		switch {
		case err == nil:
		case errors.Is(err, ErrNoBlob):
			found = append(found, Finding{"blob-missing", l.Event.Log, l.Event.Seq, l.Event.ID, string(h)})
		default:
			found = append(found, Finding{"blob-damaged", l.Event.Log, l.Event.Seq, l.Event.ID, err.Error()})
		}
	}
	for _, l := range lines {
		if p, ok := l.Payload.(*timeline.ClinicSetting); ok && p.Blob != "" {
			look(l, p.Blob)
		}
		if h := l.Private[timeline.PrivatePhoto]; h != "" {
			look(l, timeline.Hash(h))
		}
	}
	return found
}
