package core

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math"
	"time"

	"chinlift/core/record"
	"chinlift/core/term"
	"chinlift/core/timeline"
)

// The drawn record is shown in tiles of fixed windows of time, an hour wide,
// that begin at each full and half hour. A window that has passed is drawn
// once: only a late entry or a correction makes it another tile. The hour is
// what the width of a phone can hold and still be read (house choice).
const (
	tileStride = 30 * time.Minute
	tileWidth  = 60 * time.Minute
)

// Tile is one window of a drawn record. Equal tiles have equal drawings.
type Tile struct {
	K    int64  // the window, in half hours since 1970
	Mark string // changes when the drawing does
	Live bool   // the present is in it
}

func tileFrom(k int64) time.Time { return time.Unix(k*int64(tileStride/time.Second), 0).UTC() }

func tileAt(t time.Time) int64 { return int64(math.Floor(float64(t.Unix()) / tileStride.Seconds())) }

// TileNow gives the tile that the table shows: the one whose second half the
// present is in; in a closed case, the one that ends with its last entry. Any
// line changes its mark: a tap must not wait for a look at every entry.
func (c *Companion) TileNow(cs *Case) Tile {
	at := c.clock.Now().Wall
	if cs.Closed && len(cs.Entries) > 0 {
		at = cs.Entries[len(cs.Entries)-1].Now().At.Time
	}
	mark := fmt.Sprintf("%d-%d", len(cs.lines), at.Unix()/60)
	if cs.Sealed {
		mark += "s"
	}
	return Tile{K: tileAt(at) - 1, Mark: mark, Live: !cs.Closed}
}

// Tiles gives the windows of a whole case, one after the other, from its first
// entry to the present, or to its last entry once it is closed.
func (c *Companion) Tiles(ctx context.Context, cs *Case) ([]Tile, error) {
	if len(cs.Entries) == 0 {
		return nil, nil
	}
	first, last := cs.Entries[0].Now().At.Time, cs.Entries[len(cs.Entries)-1].Now().At.Time
	if now := c.clock.Now().Wall; !cs.Closed && now.After(last) {
		last = now
	}
	var all []Tile
	for k := tileAt(first); !tileFrom(k).After(last); k += int64(tileWidth / tileStride) {
		if len(all) > 0 && !cs.touches(k) {
			continue // days in between: nothing to show
		}
		t, err := c.tile(ctx, cs, k)
		if err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, nil
}

// touches reports that some entry ever stood in a window.
func (cs *Case) touches(k int64) bool {
	from, to := tileFrom(k), tileFrom(k).Add(tileWidth)
	for _, e := range cs.Entries {
		for i := range e.Versions {
			if at := e.Versions[i].At; !at.Before(from) && at.Before(to) {
				return true
			}
		}
	}
	return false
}

// tile works out the mark of a window: every line that could show in it, which
// is every line about what happened before its end, since a band runs on; and
// every estimate of depth whose course goes back into it.
func (c *Companion) tile(ctx context.Context, cs *Case, k int64) (Tile, error) {
	now := c.clock.Now().Wall
	late, err := c.minutes(ctx, term.SettingLateAfter, now, lateAfter)
	if err != nil {
		return Tile{}, err
	}
	to := tileFrom(k).Add(tileWidth)
	t := Tile{K: k, Live: !cs.Closed && !now.Before(tileFrom(k)) && now.Before(to)}
	h := fnv.New128a()
	var n [8]byte
	put := func(v int64) {
		binary.LittleEndian.PutUint64(n[:], uint64(v)) //nolint:gosec // bits for a hash
		_, _ = h.Write(n[:])                           // a hash takes all
	}
	put(int64(late))
	_, _ = h.Write([]byte(cs.For(Speaker{c.words}) + cs.Detail(Speaker{c.words})))
	after := false // an estimate of after the window was met: the band runs on to it
	for _, e := range cs.Entries {
		seen := false
		for i := range e.Versions {
			v := &e.Versions[i]
			seen = seen || v.At.Before(to)
			if p, ok := v.Payload.(*timeline.Depth); ok && !seen {
				seen = !after || p.Since(v.At).Before(to)
				after = true
			}
		}
		if !seen {
			continue
		}
		for i := range e.Versions {
			l := e.Versions[i].Line
			_, _ = h.Write([]byte(l.H))
			put(int64(len(l.P)))
		}
		// Who stands for a rule, or a weight, may become known later.
		stand, err := c.stand(ctx, cs, e)
		if err != nil {
			return Tile{}, err
		}
		_, _ = h.Write([]byte(stand))
	}
	switch {
	case t.Live:
		put(now.Unix() / 60) // the line of the present moves
	case now.Before(to) && !cs.Closed:
		put(-1)
	}
	t.Mark = fmt.Sprintf("%x", h.Sum(nil))[:16]
	return t, nil
}

// tilesKept bounds the drawings that are kept.
const tilesKept = 64

// DrawTile draws a window of a case. What was drawn before is not drawn again.
func (c *Companion) DrawTile(ctx context.Context, id string, k int64, d record.Drawing) ([]byte, error) {
	cs, err := c.Case(ctx, id)
	if err != nil {
		return nil, err
	}
	t, err := c.tile(ctx, cs, k)
	if err != nil {
		return nil, err
	}
	key := fmt.Sprint(id, " ", k, " ", t.Mark, " ", d.Width, " ", d.Height, " ", d.Theme, " ", d.Compact, " ", d.Low, " ", d.Focus)
	c.mu.Lock()
	generation := c.generation
	svg, ok := c.tiles[key]
	c.mu.Unlock()
	if ok {
		return svg, nil
	}
	s, err := c.Sheet(ctx, id)
	if err != nil {
		return nil, err
	}
	d.From, d.To, d.Panel = tileFrom(k), tileFrom(k).Add(tileWidth), true
	if t.Live {
		d.Now = c.clock.Now().Wall
	}
	var b bytes.Buffer
	if err := record.SVG(&b, s, d); err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.generation != generation {
		return b.Bytes(), nil // something was destroyed meanwhile: this may still show it
	}
	if len(c.tiles) >= tilesKept || c.tiles == nil {
		c.tiles = map[string][]byte{}
	}
	c.tiles[key] = b.Bytes()
	return b.Bytes(), nil
}
