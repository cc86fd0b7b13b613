package plain

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"chinlift/core"
	"chinlift/core/store"
	"chinlift/core/timeline"
)

// Gatherer takes in what was gathered: a companion.
type Gatherer interface {
	Merger
	KeepBlob(ctx context.Context, data []byte) (timeline.Hash, error)
	Story(ctx context.Context, caseID string) (*timeline.Story, map[string]*timeline.Entry, error)
}

var _ Gatherer = (*core.Companion)(nil)

// longestBlob bounds a file beside the lines: a photograph, a list.
const longestBlob = 64 << 20

// Found is what there is to gather.
type Found struct {
	Lines []string // files of lines, plain or sealed
	Blobs []string // files that lines name
}

// Find looks for exports and segments in files and folders, with all folders
// in them. What is de-identified is passed over, as is every file that is
// none of ours; a file that is named by itself is taken for lines whatever its
// name is.
func Find(paths []string) (Found, error) {
	var f Found
	for _, root := range paths {
		info, err := os.Stat(root)
		if err != nil {
			return f, err
		}
		if !info.IsDir() {
			f.Lines = append(f.Lines, root)
			continue
		}
		err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			name := strings.TrimSuffix(d.Name(), Sealed)
			switch {
			case name == deidentifiedName, slices.Contains(ClinicNames(), name):
			case strings.HasSuffix(name, ".jsonl"):
				f.Lines = append(f.Lines, path)
			case blobName(name).Valid():
				f.Blobs = append(f.Blobs, path)
			}
			return nil
		})
		if err != nil {
			return f, err
		}
	}
	slices.Sort(f.Lines)
	f.Lines = slices.Compact(f.Lines)
	slices.Sort(f.Blobs)
	f.Blobs = slices.Compact(f.Blobs)
	return f, nil
}

// blobName gives the SHA-256 in the name of a blob. Behind it may stand a
// point and something that tells sealed ones apart, or _ and a number.
func blobName(name string) timeline.Hash {
	name, _, _ = strings.Cut(name, ".")
	name, _, _ = strings.Cut(name, "_")
	return timeline.Hash(name)
}

// Gathered is what became of one file.
type Gathered struct {
	File string
	Replayed
	Err error // the file could not be read, or not to its end
}

// GatherLines takes in one file of lines, plain or sealed.
func GatherLines(ctx context.Context, path string, keys Unseal, dst Gatherer) (g Gathered, err error) {
	g.File = path
	r, err := keys.OpenFile(path)
	if err != nil {
		g.Err = err
		return g, nil
	}
	defer func() { g.Err = errors.Join(g.Err, r.Close()) }()
	in := &source{Reader: r}
	g.Replayed, err = Replay(ctx, in, dst)
	var device *store.Error
	if err != nil && in.err != nil && !errors.As(err, &device) {
		// The file's fault, not the device's: what was read before it is in,
		// and the other files are read all the same.
		g.Err, err = in.err, nil
	}
	return g, err
}

// source remembers that reading failed.
type source struct {
	io.Reader
	err error
}

func (s *source) Read(b []byte) (int, error) {
	n, err := s.Reader.Read(b)
	if err != nil && !errors.Is(err, io.EOF) {
		s.err = err
	}
	return n, err
}

// ErrNotItsName says that a file's content is not what its name says.
var ErrNotItsName = errors.New("the file does not match the SHA-256 in its name")

// GatherBlob takes in one file that lines name.
func GatherBlob(ctx context.Context, path string, keys Unseal, dst Gatherer) error {
	r, err := keys.OpenFile(path)
	if err != nil {
		return err
	}
	data, err := io.ReadAll(io.LimitReader(r, longestBlob+1))
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	want := blobName(strings.TrimSuffix(filepath.Base(path), Sealed))
	if len(data) > longestBlob || store.Sum(data) != want {
		return ErrNotItsName
	}
	_, err = dst.KeepBlob(ctx, data)
	return err
}

// Standing counts what in a case wants somebody to look at it.
type Standing struct {
	Conflicts int // entries whose corrections stand against each other
	Waiting   int // corrections whose entry is not here
	Aside     int // lines that claim a number or an id that another claims
}

// StandingOf looks at the cases that a gathering changed.
func StandingOf(ctx context.Context, dst Gatherer, cases []string) (s Standing, err error) {
	for _, id := range cases {
		story, _, err := dst.Story(ctx, id)
		if err != nil {
			return s, err
		}
		s.Waiting += len(story.Waiting)
		s.Aside += len(story.Aside)
		for _, e := range story.About(id) {
			if e.In(id) && e.Conflict() {
				s.Conflicts++
			}
		}
	}
	return s, nil
}
