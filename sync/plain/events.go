package plain

import (
	"context"
	"io"
	"iter"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"chinlift/core/timeline"
)

const eventsTable = "events"

var eventHeader = []string{"id", "log", "seq", "tick", "hash", "scope", "about", "kind", "at", "entered", "since_boot_ms", "boot", "author", "amends", "replaces", "reason",
	"standing", "superseded_by", "data", "name", "number", "text"}

// eventRows gives every line of the cases, each once.
func eventRows(cases iter.Seq2[CaseStory, error], private bool) iter.Seq2[[]string, error] {
	return func(yield func([]string, error) bool) {
		for c, err := range cases {
			if err != nil {
				yield(nil, err)
				return
			}
			for row := range linesOfStory(c.ID, c.Story, false, private) {
				if !yield(row, nil) {
					return
				}
			}
		}
	}
}

// linesOfStory gives the rows of one thing. A line that was moved stands in the
// story of two cases; it is listed where it is about. So every line comes once.
// The row is the walk's own.
func linesOfStory(id string, story *timeline.Story, elsewhere, private bool) iter.Seq[[]string] {
	type stand struct{ state, by string }
	return func(yield func([]string) bool) {
		stands := map[*timeline.Line]stand{}
		for _, e := range story.Entries {
			for i := range e.Versions {
				state, by := standing(e, i, id)
				stands[e.Versions[i].Line] = stand{state, by}
			}
		}
		for _, l := range story.Waiting {
			stands[l] = stand{standingWaiting, ""}
		}
		for _, l := range story.Aside {
			stands[l] = stand{standingAside, ""}
		}
		row := make([]string, 0, len(eventHeader))
		for _, l := range story.Lines() {
			ev := &l.Event
			if ev.About != id || (ev.Scope != timeline.ScopeCase) != elsewhere {
				continue
			}
			st := stands[l]
			row = append(row[:0], ev.ID, ev.Log, strconv.FormatInt(ev.Seq, 10), strconv.FormatInt(ev.Tick, 10), string(l.H), string(ev.Scope), ev.About, string(ev.Kind),
				stamp(ev.At), stamp(ev.Entered.Wall), strconv.FormatInt(ev.Entered.SinceBootMS, 10), ev.Entered.Boot, ev.Author, ev.Amends, strings.Join(ev.Replaces, " "), string(ev.Reason),
				st.state, st.by, string(ev.Data), "", "", "")
			if private {
				row = append(row[:len(row)-3], l.Private[timeline.PrivateName], l.Private[timeline.PrivateNumber], l.Private[timeline.PrivateText])
			}
			if !yield(row) {
				return
			}
		}
	}
}

// thingsAtOnce is how many cases are read together: it bounds the memory, and
// long cases have some thousand lines.
const thingsAtOnce = 8

// writeEvents writes events.csv of everything: what eventRows gives, read
// without the payloads and by as many at once as there are processors.
func writeEvents(ctx context.Context, w io.Writer, src Source, o Options) error {
	walk, err := src.Walk(ctx)
	if err != nil {
		return err
	}
	type part struct {
		ids       []string
		elsewhere bool
	}
	parts := func(yield func(part, error) bool) {
		some := part{}
		for id, err := range src.Cases(ctx) {
			if some.ids = append(some.ids, id); err != nil || len(some.ids) == thingsAtOnce {
				if !yield(some, err) || err != nil {
					return
				}
				some.ids = nil
			}
		}
		if len(some.ids) > 0 && !yield(some, nil) {
			return
		}
		others, err := src.Elsewhere(ctx)
		if err != nil {
			yield(part{}, err)
			return
		}
		for ids := range slices.Chunk(others, thingsAtOnce) {
			if !yield(part{ids, true}, nil) {
				return
			}
		}
	}
	var buffers sync.Pool
	text := func(ctx context.Context, p part) (*[]byte, error) {
		stories, err := walk.Bare(ctx, p.ids)
		if err != nil {
			return nil, err
		}
		b, ok := buffers.Get().(*[]byte)
		if !ok {
			b = new([]byte)
		}
		*b = (*b)[:0]
		for i, lines := range stories {
			for row := range linesOfStory(p.ids[i], timeline.Fold(lines), p.elsewhere, o.Private) {
				*b = appendCells(*b, row)
			}
		}
		return b, nil
	}
	if _, err := w.Write(appendRow(nil, eventHeader)); err != nil {
		return err
	}
	for b, err := range ahead(ctx, parts, text) {
		if err != nil {
			return err
		}
		if _, err := w.Write(*b); err != nil {
			return err
		}
		buffers.Put(b)
	}
	return nil
}

// ahead does a piece of work for each of the given, as many at once as there
// are processors, and gives what comes of them in their order; no more than a
// few are held. It ends with the first error.
func ahead[A, B any](ctx context.Context, given iter.Seq2[A, error], work func(context.Context, A) (B, error)) iter.Seq2[B, error] {
	type done struct {
		it  B
		err error
	}
	return func(yield func(B, error) bool) {
		ctx, stop := context.WithCancel(ctx)
		var workers sync.WaitGroup
		defer workers.Wait() // none of them outlives the walk
		defer stop()
		queue := make(chan chan done, runtime.GOMAXPROCS(0))
		workers.Go(func() {
			defer close(queue)
			for a, err := range given {
				one := make(chan done, 1)
				select {
				case queue <- one:
				case <-ctx.Done():
					return
				}
				if err != nil {
					one <- done{err: err}
					return
				}
				workers.Go(func() {
					it, err := work(ctx, a)
					one <- done{it, err}
				})
			}
		})
		for one := range queue {
			if d := <-one; !yield(d.it, d.err) || d.err != nil {
				return
			}
		}
		if err := ctx.Err(); err != nil {
			var none B
			yield(none, err) // stopped from outside, between two of them
		}
	}
}
