package plain

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"github.com/google/renameio/v2"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/timeline"
)

// Source is what can be exported: a companion.
type Source interface {
	// All walks every line in entry order.
	All(ctx context.Context, yield func(*timeline.Line) error) error
	// Cases walks the ids of all cases, sorted.
	Cases(ctx context.Context) iter.Seq2[string, error]
	// Story gives a folded case and the people whom it names.
	Story(ctx context.Context, caseID string) (*timeline.Story, map[string]*timeline.Entry, error)
	// Closure gives the lines of a case, of what was moved in or out of it,
	// and of the people whom it names, in entry order.
	Closure(ctx context.Context, caseID string) ([]*timeline.Line, error)
	// Elsewhere lists what is no case and has lines about it, sorted; Story
	// folds each.
	Elsewhere(ctx context.Context) ([]string, error)
	// SheetOf gives the drawn record, without names and free text unless asked for.
	SheetOf(ctx context.Context, caseID string, private bool) (*record.Sheet, error)
}

var _ Source = (*core.Companion)(nil)

// Options says what goes out.
type Options struct {
	Private bool      // with names, record numbers and free text
	Case    string    // one case; empty: all
	Made    time.Time // when; printed on paper
}

// Names lists the files that Export writes for one case or for all, beside
// the PDFs.
func Names() []string {
	names := []string{"lines.jsonl"}
	for _, t := range Tables() {
		names = append(names, t.Name+".csv")
	}
	return names
}

// Export writes the files into a folder, which is made if it is missing: the
// JSON lines, the tables, and a PDF for each case. Each file appears whole or
// not at all, and is synced to disk before it does. It answers the names of
// the files.
func Export(ctx context.Context, src Source, dir string, o Options) (written []string, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	for _, name := range Names() {
		if err := writeFile(dir, name, func(w io.Writer) error { return Write(ctx, w, src, name, o) }); err != nil {
			return written, fmt.Errorf("%s: %w", name, err)
		}
		written = append(written, name)
	}
	taken := map[string]bool{}
	for id, err := range caseIDs(ctx, src, o) {
		if err != nil {
			return written, err
		}
		name := pdfName(id, taken)
		one := o
		one.Case = id
		if err := writeFile(dir, name, func(w io.Writer) error { return Write(ctx, w, src, "record.pdf", one) }); err != nil {
			return written, fmt.Errorf("%s: %w", name, err)
		}
		written = append(written, name)
	}
	return written, syncDir(dir)
}

// Older lists the drawn records in a folder that are not of the export that
// was just written: they are left where they are, and may hold names that this
// export leaves out.
func Older(dir string, written []string) ([]string, error) {
	found, err := filepath.Glob(filepath.Join(dir, "record-*.pdf"))
	if err != nil {
		return nil, err
	}
	var older []string
	for _, f := range found {
		if name := filepath.Base(f); !slices.Contains(written, name) {
			older = append(older, name)
		}
	}
	return older, nil
}

// ErrNoFile says that there is no file of this name to be made.
var ErrNoFile = errors.New("no file of this name can be made")

// Write makes one file: a name of Names, or record.pdf for one case.
func Write(ctx context.Context, w io.Writer, src Source, name string, o Options) error {
	switch name {
	case "lines.jsonl":
		return WriteLines(w, linesOf(ctx, src, o), o.Private)
	case "record.pdf":
		s, err := src.SheetOf(ctx, o.Case, o.Private)
		if err != nil {
			return err
		}
		return record.PDF(w, s, record.Paper{Made: o.Made})
	}
	for _, t := range Tables() {
		if t.Name+".csv" == name {
			stories := storiesOf(ctx, src, o)
			if t.Name == "events" && o.Case == "" {
				stories = withElsewhere(ctx, src, stories)
			}
			return WriteCSV(w, t, stories, o.Private)
		}
	}
	return fmt.Errorf("%s: %w", name, ErrNoFile)
}

// errEnough ends a walk early.
var errEnough = errors.New("enough")

func linesOf(ctx context.Context, src Source, o Options) iter.Seq2[*timeline.Line, error] {
	return func(yield func(*timeline.Line, error) bool) {
		if o.Case != "" {
			lines, err := src.Closure(ctx, o.Case)
			if err != nil {
				yield(nil, err)
				return
			}
			for _, l := range lines {
				if !yield(l, nil) {
					return
				}
			}
			return
		}
		err := src.All(ctx, func(l *timeline.Line) error {
			if !yield(l, nil) {
				return errEnough
			}
			return nil
		})
		if err != nil && !errors.Is(err, errEnough) {
			yield(nil, err)
		}
	}
}

func caseIDs(ctx context.Context, src Source, o Options) iter.Seq2[string, error] {
	if o.Case != "" {
		return func(yield func(string, error) bool) { yield(o.Case, nil) }
	}
	return src.Cases(ctx)
}

func storiesOf(ctx context.Context, src Source, o Options) iter.Seq2[CaseStory, error] {
	return func(yield func(CaseStory, error) bool) {
		for id, err := range caseIDs(ctx, src, o) {
			if err != nil {
				yield(CaseStory{}, err)
				return
			}
			story, persons, err := src.Story(ctx, id)
			if !yield(CaseStory{ID: id, Story: story, Persons: persons}, err) || err != nil {
				return
			}
		}
	}
}

// withElsewhere adds what is about no case, as stories of their own.
func withElsewhere(ctx context.Context, src Source, cases iter.Seq2[CaseStory, error]) iter.Seq2[CaseStory, error] {
	return func(yield func(CaseStory, error) bool) {
		for c, err := range cases {
			if !yield(c, err) || err != nil {
				return
			}
		}
		abouts, err := src.Elsewhere(ctx)
		if err != nil {
			yield(CaseStory{}, err)
			return
		}
		for _, about := range abouts {
			story, persons, err := src.Story(ctx, about)
			if !yield(CaseStory{ID: about, Story: story, Persons: persons, Elsewhere: true}, err) || err != nil {
				return
			}
		}
	}
}

// pdfName names the drawn record of a case: by the end of its id, never by
// whom it is about. An id that comes from elsewhere may hold anything, a path
// too; then it is named by its hash. A name that is taken gets a number.
func pdfName(id string, taken map[string]bool) string {
	short := core.ShortCase(id)
	if !hexadecimal.MatchString(short) {
		sum := sha256.Sum256([]byte(id))
		short = hex.EncodeToString(sum[:4])
	}
	name := "record-" + short + ".pdf"
	for n := 2; taken[name]; n++ {
		name = fmt.Sprintf("record-%s-%d.pdf", short, n)
	}
	taken[name] = true
	return name
}

var hexadecimal = regexp.MustCompile("^[0-9a-f]{8}$")

// writeFile makes one file whole or not at all.
func writeFile(dir, name string, write func(io.Writer) error) error {
	f, err := renameio.NewPendingFile(filepath.Join(dir, name), renameio.WithTempDir(dir), renameio.WithPermissions(0o600))
	if err != nil {
		return err
	}
	if err := write(f); err != nil {
		return errors.Join(err, f.Cleanup())
	}
	return f.CloseAtomicallyReplace()
}

// syncDir makes the names reach the disk too.
func syncDir(dir string) (err error) {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, d.Close()) }()
	return d.Sync()
}

// Maker makes single files for the screens.
type Maker struct {
	Source Source
	Now    func() time.Time
}

// Names lists what can be made of one case.
func (Maker) Names() []string { return append([]string{"record.pdf"}, Names()...) }

// File makes one file of one case.
func (m Maker) File(ctx context.Context, caseID, name string, private bool) (data []byte, mediaType string, err error) {
	var b bytes.Buffer
	if err := Write(ctx, &b, m.Source, name, Options{Private: private, Case: caseID, Made: m.Now()}); err != nil {
		return nil, "", err
	}
	switch filepath.Ext(name) {
	case ".pdf":
		mediaType = "application/pdf"
	case ".csv":
		mediaType = "text/csv; charset=utf-8"
	default:
		mediaType = "application/jsonl; charset=utf-8"
	}
	return b.Bytes(), mediaType, nil
}
