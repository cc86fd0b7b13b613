package core

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // a photograph may come as PNG
	"slices"

	"chinlift/core/store"
	"chinlift/core/timeline"
)

// ErrNotAPicture says that what was sent is no JPEG and no PNG, or one that is
// too large to be read on a phone.
var ErrNotAPicture = errors.New("not a picture that can be kept")

// Limits of photographs; house choices. pictureMost bounds what is read,
// pixelsMost what is unpacked (a phone's camera has 12 to 50 million), and
// sideMost the longer side of what is kept: a crack in a mask shows, and a year
// of faults fits.
const (
	pictureMost = 24 << 20
	pixelsMost  = 64 << 20
	sideMost    = 1600
)

// StripPicture gives a photograph as its points alone: drawn anew, turned as
// the camera was held, and no larger than sideMost. Where and with what it was
// taken stands in parts of the file that do not come along.
func StripPicture(data []byte) ([]byte, error) {
	if len(data) > pictureMost {
		return nil, fmt.Errorf("%d bytes: %w", len(data), ErrNotAPicture)
	}
	c, format, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || format != "jpeg" && format != "png" || c.Width < 1 || c.Height < 1 || c.Width > pixelsMost/c.Height {
		return nil, errors.Join(err, ErrNotAPicture)
	}
	m, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, errors.Join(err, ErrNotAPicture)
	}
	var b bytes.Buffer
	// 85 of 100: the usual middle between size and faults of its own.
	if err := jpeg.Encode(&b, turned(m, orientation(data)), &jpeg.Options{Quality: 85}); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// turned draws a picture smaller where it is too large, and turned by an
// orientation of EXIF, 1 to 8. Each point is the mean of those it stands for.
func turned(m image.Image, orientation int) *image.RGBA {
	r := m.Bounds()
	w, h := r.Dx(), r.Dy()
	n := 1
	for max(w, h)/n > sideMost {
		n++
	}
	small := image.NewRGBA(image.Rect(0, 0, max(1, w/n), max(1, h/n)))
	for y := range small.Rect.Dy() {
		for x := range small.Rect.Dx() {
			var red, green, blue, count uint32
			for dy := range n {
				for dx := range n {
					if px, py := x*n+dx, y*n+dy; px < w && py < h {
						cr, cg, cb, _ := m.At(r.Min.X+px, r.Min.Y+py).RGBA()
						red, green, blue, count = red+cr>>8, green+cg>>8, blue+cb>>8, count+1
					}
				}
			}
			small.SetRGBA(x, y, color.RGBA{uint8(red / count), uint8(green / count), uint8(blue / count), 255}) //nolint:gosec // a mean of bytes
		}
	}
	if orientation < 2 || orientation > 8 {
		return small
	}
	w, h = small.Rect.Dx(), small.Rect.Dy()
	to := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		to = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(to)
	for y := range h {
		for x := range w {
			var tx, ty int
			switch orientation {
			case 2:
				tx, ty = w-1-x, y
			case 3:
				tx, ty = w-1-x, h-1-y
			case 4:
				tx, ty = x, h-1-y
			case 5:
				tx, ty = y, x
			case 6:
				tx, ty = h-1-y, x
			case 7:
				tx, ty = h-1-y, w-1-x
			case 8:
				tx, ty = y, w-1-x
			}
			out.SetRGBA(tx, ty, small.RGBAAt(x, y))
		}
	}
	return out
}

// orientation reads how a camera was held: tag 0x0112 in the first directory
// of a JPEG's EXIF (CIPA DC-008, Exif 2.32, 2019, from memory). 1 where it does
// not say.
func orientation(data []byte) int {
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		marker, size := data[i+1], int(binary.BigEndian.Uint16(data[i+2:]))
		if size < 2 || i+2+size > len(data) || marker == 0xda {
			return 1
		}
		if body := data[i+4 : i+2+size]; marker == 0xe1 && bytes.HasPrefix(body, []byte("Exif\x00\x00")) {
			return exifOrientation(body[6:])
		}
		i += 2 + size
	}
	return 1
}

func exifOrientation(t []byte) int {
	if len(t) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int(order.Uint32(t[4:]))
	if at < 8 || at+2 > len(t) {
		return 1
	}
	for n := range int(order.Uint16(t[at:])) {
		e := at + 2 + 12*n
		if e+12 > len(t) {
			return 1
		}
		if order.Uint16(t[e:]) == 0x0112 {
			return int(order.Uint16(t[e+8:]))
		}
	}
	return 1
}

// AttachPhoto puts a photograph beside the last look at an item: JPEG or PNG,
// kept without the place and time that a camera writes into it. It is a
// correction of the look, which keeps its time and what it found.
// ErrNotAPicture, and ErrNotHere where nobody looked at the item today or this
// month.
func (c *Companion) AttachPhoto(ctx context.Context, id, list, item string, data []byte) (Done, error) {
	clean, err := StripPicture(data)
	if err != nil {
		return Done{}, err
	}
	looks, err := c.looks(ctx, list, c.clock.Now().Wall)
	if err != nil {
		return Done{}, err
	}
	l, ok := looks[item]
	if !ok {
		return Done{}, fmt.Errorf("a look at %q of %q: %w", item, list, ErrNotHere)
	}
	for i := range l.entry.Versions {
		if v := &l.entry.Versions[i]; v.Line.Event.ID == id && v.Private()[timeline.PrivatePhoto] == string(store.Sum(clean)) { // a retry
			return Done{Head: c.store.Head(), Lines: []*timeline.Line{v.Line}}, nil
		}
	}
	h, err := c.store.PutPhoto(ctx, timeline.ScopeClinic, l.entry.Now().Case, clean)
	if err != nil {
		return Done{}, err
	}
	now := l.entry.Now()
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeClinic, About: now.Case, At: now.At, Payload: now.Payload,
		Private: timeline.Private{timeline.PrivatePhoto: string(h)}, Amends: l.entry.ID, Replaces: l.entry.HeadIDs()})
}

// AttachToCase puts a photograph into a case, as a note of its own: of a paper
// that came with the patient, of an airway. JPEG or PNG, kept without the place
// and time that a camera writes into it; who it shows is part of the identity,
// and it is sealed and destroyed with that. ErrNotAPicture, and ErrNotHere for
// no case.
func (c *Companion) AttachToCase(ctx context.Context, id, caseID string, data []byte) (Done, error) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return Done{}, err
	}
	if cs.Opened.IsZero() || !slices.ContainsFunc(cs.lines, func(l *timeline.Line) bool { return l.Event.Scope == timeline.ScopeCase }) {
		return Done{}, fmt.Errorf("case %s: %w", caseID, ErrNotHere)
	}
	clean, err := StripPicture(data)
	if err != nil {
		return Done{}, err
	}
	h, err := c.store.PutPhoto(ctx, timeline.ScopeCase, caseID, clean)
	if err != nil {
		return Done{}, err
	}
	return c.Record(ctx, Tap{ID: id, Scope: timeline.ScopeCase, About: caseID, Payload: &timeline.Note{}, Private: timeline.Private{timeline.PrivatePhoto: string(h)}})
}

// CasePhoto gives the photograph of an entry of a case, as JPEG. ErrSealed
// while it is locked; ErrNotHere where there is none, or where the entry
// belongs to another case.
func (c *Companion) CasePhoto(ctx context.Context, caseID, entry string) ([]byte, error) {
	cs, err := c.Case(ctx, caseID)
	if err != nil {
		return nil, err
	}
	if e := cs.Story.Find(entry); e != nil && e.Now().Case == caseID {
		v := e.Now()
		if v.Content.Sealed {
			return nil, ErrSealed
		}
		if h := v.Private()[timeline.PrivatePhoto]; h != "" {
			return c.store.Blob(timeline.Hash(h))
		}
	}
	return nil, fmt.Errorf("photograph of %s: %w", entry, ErrNotHere)
}

// Photo gives the photograph beside a look at an item of a list, as JPEG. Only
// what stands beside a look within a month or on a day's page is given:
// ErrNotHere otherwise.
func (c *Companion) Photo(ctx context.Context, list, entry string) ([]byte, error) {
	days, err := c.CheckDays(ctx, list)
	if err != nil {
		return nil, err
	}
	for _, day := range days {
		lines, err := c.store.Case(ctx, list+" "+day)
		if err != nil {
			return nil, err
		}
		story := timeline.Fold(lines)
		if i := slices.IndexFunc(story.Entries, func(e *timeline.Entry) bool { return e.ID == entry }); i >= 0 {
			if h := story.Entries[i].Now().Private()[timeline.PrivatePhoto]; h != "" {
				return c.store.Blob(timeline.Hash(h))
			}
		}
	}
	return nil, fmt.Errorf("photograph of %s: %w", entry, ErrNotHere)
}
