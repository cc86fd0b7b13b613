package plain

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/google/renameio/v2"

	"chinlift/core"
	"chinlift/core/record"
	"chinlift/core/store"
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
	// Elsewhere lists what is no case and has lines about it, sorted.
	Elsewhere(ctx context.Context) ([]string, error)
	// Walk begins a walk over all lines, thing by thing.
	Walk(ctx context.Context) (*store.Walk, error)
	// DrugCodes gives the look-up of drugs by the rules that hold.
	DrugCodes(ctx context.Context) (core.DrugCodes, error)
	// Checks gives the equipment checks of the day of a case.
	Checks(ctx context.Context, cs *core.Case) ([]core.Check, error)
	// Blob gives a file that a line names; store.ErrNoBlob where it is not here.
	Blob(h timeline.Hash) ([]byte, error)
	// Stands tells of the doses of a case how they stand to the dose rules.
	Stands(ctx context.Context, cs *core.Case) func(*timeline.Entry, *timeline.Version) (core.Stand, error)
	// SheetOf gives the drawn record, without names and free text unless asked for.
	SheetOf(ctx context.Context, caseID string, private bool) (*record.Sheet, error)
}

var _ Source = (*core.Companion)(nil)

// Options says what goes out.
type Options struct {
	Private    bool         // with names, record numbers and free text
	Pseudonyms PseudonymKey // not nil: de-identified instead, with pseudonyms by this key
	Case       string       // one case; empty: all
	Made       time.Time    // when; printed on paper
	Seal       Seal         // for whom the files are sealed
	Snomed     *Snomed      // further codes for the FHIR bundles; may be nil
}

// Form says which form is asked for.
func (o Options) Form() Form {
	switch {
	case o.Pseudonyms != nil:
		return FormDeidentified
	case o.Private:
		return FormPrivate
	}
	return FormPublic
}

// Names lists the files that Export writes for one case or for all, beside
// those of each case.
func Names() []string {
	names := []string{"lines.jsonl"}
	for _, t := range Tables() {
		names = append(names, t.Name+".csv")
	}
	return names
}

// ErrForms says that two forms were asked for at once.
var ErrForms = errors.New("a de-identified export holds no private part")

// Export writes the files into a folder, which is made if it is missing: the
// JSON lines and the files that they name, the tables, a PDF and a FHIR bundle
// for each case; or the one file of the de-identified form. With them go the texts that tell how to read
// them, and last the manifest. Each file appears whole or not at all, and is
// synced to disk before it does. It answers the names of the files.
func Export(ctx context.Context, src Source, dir string, o Options) (written []string, err error) {
	if o.Pseudonyms != nil && (o.Private || len(o.Pseudonyms) != keyBytes) {
		return nil, ErrForms
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	if err := readable(ctx, src, o); err != nil {
		return nil, err
	}
	// An older manifest no longer tells the truth once the first file is
	// written.
	if err := os.Remove(filepath.Join(dir, ManifestName)); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	s, err := o.Seal.ready()
	if err != nil {
		return nil, err
	}
	e := exporter{dir: dir, seal: s, manifest: Manifest{Format: manifestFormat, Form: o.Form()}}
	err = e.all(ctx, src, o)
	if err == nil {
		err = readable(ctx, src, o) // it may have been locked meanwhile
	}
	return e.names(), err
}

// readable answers store.ErrSealed where a private part is to go out and is
// sealed: an export that leaves names out where they were asked for would pass
// for a whole one.
func readable(ctx context.Context, src Source, o Options) error {
	if !o.Private {
		return nil
	}
	for l, err := range linesOf(ctx, src, o) {
		if err != nil {
			return err
		}
		if l.Sealed {
			return store.ErrSealed
		}
	}
	return nil
}

// exporter writes the files of one export.
type exporter struct {
	dir      string
	seal     sealer
	manifest Manifest
	complete bool
}

func (e *exporter) names() (names []string) {
	for _, f := range e.manifest.Files {
		names = append(names, f.Name)
	}
	if e.complete {
		names = append(names, ManifestName)
	}
	return names
}

func (e *exporter) all(ctx context.Context, src Source, o Options) error {
	for name, text := range texts(o.Form()) {
		if err := e.open(name, func(w io.Writer) error { _, err := w.Write(text); return err }); err != nil {
			return err
		}
	}
	if e.seal.key != nil {
		if err := e.open(keyFile, func(w io.Writer) error { _, err := w.Write(e.seal.key); return err }); err != nil {
			return err
		}
	}
	names := Names()
	if o.Pseudonyms != nil {
		names = []string{deidentifiedName}
	}
	for _, name := range names {
		if err := e.sealed(name, func(w io.Writer) error { return Write(ctx, w, src, name, o) }); err != nil {
			return err
		}
	}
	// Where all cases go out, so does what wants mending or buying.
	if f, ok := src.(FaultSource); ok && o.Case == "" && o.Pseudonyms == nil {
		faults, err := f.Faults(ctx, o.Private)
		if err != nil {
			return err
		}
		for _, name := range ClinicNames() {
			if err := e.sealed(name, func(w io.Writer) error { return WriteFaults(w, name, faults) }); err != nil {
				return err
			}
		}
	}
	if o.Pseudonyms == nil {
		if err := e.blobs(ctx, src, o); err != nil {
			return err
		}
		if err := e.cases(ctx, src, o); err != nil {
			return err
		}
	}
	slices.SortFunc(e.manifest.Files, func(a, b ManifestFile) int { return cmp.Compare(a.Name, b.Name) })
	if err := syncDir(e.dir); err != nil {
		return err
	}
	text, err := json.MarshalIndent(e.manifest, "", "  ")
	if err != nil {
		return err
	}
	if err := writeFile(e.dir, ManifestName, func(w io.Writer) error { _, err := w.Write(append(text, '\n')); return err }); err != nil {
		return fmt.Errorf("%s: %w", ManifestName, err)
	}
	e.complete = true
	return syncDir(e.dir)
}

// blobs writes the files that the lines name, each under its SHA-256. One that
// is not on this device, or is damaged there, stays away: whoever has it
// carries it.
func (e *exporter) blobs(ctx context.Context, src Source, o Options) error {
	done := map[timeline.Hash]bool{}
	for l, err := range linesOf(ctx, src, o) {
		if err != nil {
			return err
		}
		for _, h := range BlobsOf(l, o.Private) {
			if done[h] {
				continue
			}
			done[h] = true
			data, err := src.Blob(h)
			var damaged *store.Error
			if errors.Is(err, store.ErrNoBlob) || errors.As(err, &damaged) && damaged.Code == store.CodeDamaged {
				continue
			}
			if err != nil {
				return err
			}
			if err := e.sealed(string(h), func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
				return err
			}
		}
	}
	return nil
}

// BlobsOf gives the files that a line names: a clinic's own list or rules, the
// equipment list that was in the hand at a check, and, of the private part, a
// photograph.
func BlobsOf(l *timeline.Line, private bool) (all []timeline.Hash) {
	switch p := l.Payload.(type) {
	case *timeline.ClinicSetting:
		all = append(all, p.Blob)
	case *timeline.KitItem:
		all = append(all, timeline.Hash(p.Version))
	}
	if private {
		all = append(all, timeline.Hash(l.Private[timeline.PrivatePhoto]))
	}
	return slices.DeleteFunc(all, func(h timeline.Hash) bool { return !h.Valid() })
}

// cases writes the files of each case.
func (e *exporter) cases(ctx context.Context, src Source, o Options) error {
	taken := map[string]bool{}
	for id, err := range caseIDs(ctx, src, o) {
		if err != nil {
			return err
		}
		short := shortName(id, taken)
		one := o
		one.Case = id
		for _, f := range []struct{ name, made string }{{"record-" + short + ".pdf", recordFile}, {"fhir-" + short + ".json", fhirFile}} {
			if err := e.sealed(f.name, func(w io.Writer) error { return Write(ctx, w, src, f.made, one) }); err != nil {
				return err
			}
		}
	}
	return nil
}

// sealed writes a file that is sealed where the export is.
func (e *exporter) sealed(name string, write func(io.Writer) error) error {
	if len(e.seal.to) > 0 {
		name += Sealed
	}
	return e.open(name, func(w io.Writer) error { return e.seal.seal(w, write) })
}

// open writes a file as it is, and notes it for the manifest.
func (e *exporter) open(name string, write func(io.Writer) error) error {
	sum, n := sha256.New(), counter(0)
	err := writeFile(e.dir, name, func(w io.Writer) error { return write(io.MultiWriter(w, sum, &n)) })
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	e.manifest.Files = append(e.manifest.Files, ManifestFile{name, int64(n), hex.EncodeToString(sum.Sum(nil))})
	return nil
}

// counter counts bytes.
type counter int64

func (c *counter) Write(b []byte) (int, error) {
	*c += counter(len(b))
	return len(b), nil
}

// Older lists the files of earlier exports in a folder that are not of the one
// that was just written: they are left where they are, and may hold names that
// this export leaves out.
func Older(dir string, written []string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var older []string
	for _, f := range entries {
		if name := f.Name(); ours(name) && !slices.Contains(written, name) {
			older = append(older, name)
		}
	}
	return older, nil
}

// ours reports that a name is one that Export gives to what holds records.
func ours(name string) bool {
	name = strings.TrimSuffix(name, Sealed)
	return name == deidentifiedName || slices.Contains(Names(), name) || ofCase.MatchString(name) || timeline.Hash(name).Valid()
}

var ofCase = regexp.MustCompile(`^(record-.*\.pdf|fhir-.*\.json)$`)

// ErrNoFile says that there is no file of this name to be made.
var ErrNoFile = errors.New("no file of this name can be made")

// Write makes one file, not sealed: a name of Names, record.pdf or fhir.json for
// one case, or deidentified.jsonl.
func Write(ctx context.Context, w io.Writer, src Source, name string, o Options) error {
	switch name {
	case "lines.jsonl":
		return WriteLines(w, linesOf(ctx, src, o), o.Private)
	case deidentifiedName:
		return writeDeidentified(ctx, w, src, o)
	case fhirFile:
		return writeFHIR(ctx, w, src, o)
	case recordFile:
		s, err := src.SheetOf(ctx, o.Case, o.Private)
		if err != nil {
			return err
		}
		return record.PDF(w, s, record.Paper{Made: o.Made})
	}
	for _, t := range Tables() {
		if t.Name+".csv" == name {
			if t.Name == eventsTable && o.Case == "" {
				return writeEvents(ctx, w, src, o)
			}
			return WriteCSV(w, t, storiesOf(ctx, src, o), o.Private)
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

// storiesOf walks the cases in their order. They are read and folded by as many
// at once as there are processors; no more than a few are held.
func storiesOf(ctx context.Context, src Source, o Options) iter.Seq2[CaseStory, error] {
	return ahead(ctx, caseIDs(ctx, src, o), func(ctx context.Context, id string) (CaseStory, error) {
		story, persons, err := src.Story(ctx, id)
		// The case is worked out only for the table that asks.
		stands := sync.OnceValue(func() func(*timeline.Entry, *timeline.Version) (core.Stand, error) {
			return src.Stands(ctx, core.CaseOf(id, story, persons))
		})
		stand := func(e *timeline.Entry, v *timeline.Version) (core.Stand, error) { return stands()(e, v) }
		return CaseStory{ID: id, Story: story, Persons: persons, Stand: stand}, err
	})
}

// The files of one case.
const (
	recordFile = "record.pdf"
	fhirFile   = "fhir.json"
)

// shortName names the files of a case: by the end of its id, never by whom it
// is about. An id that comes from elsewhere may hold anything, a path too;
// then it is named by its hash. A name that is taken gets a number.
func shortName(id string, taken map[string]bool) string {
	short := core.ShortCase(id)
	if !hexadecimal.MatchString(short) {
		sum := sha256.Sum256([]byte(id))
		short = hex.EncodeToString(sum[:4])
	}
	name := short
	for n := 2; taken[name]; n++ {
		name = fmt.Sprintf("%s-%d", short, n)
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
func (Maker) Names() []string { return append([]string{recordFile, fhirFile}, Names()...) }

// File makes one file of one case.
func (m Maker) File(ctx context.Context, caseID, name string, private bool) (data []byte, mediaType string, err error) {
	o := Options{Private: private, Case: caseID}
	if err := readable(ctx, m.Source, o); err != nil {
		return nil, "", err
	}
	var b bytes.Buffer
	if err := Write(ctx, &b, m.Source, name, Options{Private: private, Case: caseID, Made: m.Now()}); err != nil {
		return nil, "", err
	}
	switch filepath.Ext(name) {
	case ".pdf":
		mediaType = "application/pdf"
	case ".json":
		mediaType = "application/fhir+json"
	case ".csv":
		mediaType = "text/csv; charset=utf-8"
	default:
		mediaType = "application/jsonl; charset=utf-8"
	}
	return b.Bytes(), mediaType, nil
}
