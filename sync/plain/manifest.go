package plain

import (
	"bytes"
	"crypto/sha256"
	_ "embed" // the texts that go out with every export
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
)

// ManifestName is the file that lists the others. It is written last: where it
// is missing, the export was not finished.
const ManifestName = "manifest.json"

// manifestFormat names the form of the manifest.
const manifestFormat = "chinlift-export/1"

// Manifest lists the files of an export as they lie in the folder, sealed ones
// as they are sealed. It shows damage and what is missing; it is no signature.
type Manifest struct {
	Format string         `json:"format"`
	Form   Form           `json:"form"`
	Files  []ManifestFile `json:"files"`
}

// ManifestFile is one file.
type ManifestFile struct {
	Name   string `json:"name"`
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// Form says how much of the record an export holds.
type Form string

// The forms.
const (
	FormPrivate      Form = "with-private"
	FormPublic       Form = "without-private"
	FormDeidentified Form = "deidentified"
)

//go:embed FORMAT.md
var formatText []byte

//go:embed schema/line.schema.json
var lineSchema []byte

//go:embed schema/deidentified.schema.json
var deidentifiedSchema []byte

//go:embed schema/manifest.schema.json
var manifestSchema []byte

// texts are the files that tell how to read the others. They hold nothing of
// any record and are never sealed.
func texts(f Form) map[string][]byte {
	t := map[string][]byte{"FORMAT.md": formatText, "manifest.schema.json": manifestSchema}
	if f == FormDeidentified {
		t["deidentified.schema.json"] = deidentifiedSchema
	} else {
		t["line.schema.json"] = lineSchema
	}
	return t
}

// longestManifest bounds a manifest that is read: some 100,000 cases.
const longestManifest = 64 << 20

// ReadManifest reads a manifest. A name in it that is no plain file name is
// refused, so that nobody is led out of the folder.
func ReadManifest(r io.Reader) (Manifest, error) {
	data, err := io.ReadAll(io.LimitReader(r, longestManifest+1))
	if err != nil {
		return Manifest{}, err
	}
	if len(data) > longestManifest {
		return Manifest{}, fmt.Errorf("%s is longer than %d bytes", ManifestName, longestManifest)
	}
	var m Manifest
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&m); err != nil {
		return Manifest{}, fmt.Errorf("%s cannot be read: %w", ManifestName, err)
	}
	if m.Format != manifestFormat {
		return Manifest{}, fmt.Errorf("%s is of the form %q, and %q is known", ManifestName, m.Format, manifestFormat)
	}
	seen := map[string]bool{}
	for _, f := range m.Files {
		if !plainName.MatchString(f.Name) || seen[f.Name] || f.Name == ManifestName {
			return Manifest{}, fmt.Errorf("%s names %q, which cannot be", ManifestName, f.Name)
		}
		if _, err := hex.DecodeString(f.SHA256); err != nil || len(f.SHA256) != 2*sha256.Size || f.Bytes < 0 {
			return Manifest{}, fmt.Errorf("%s: size or SHA-256 of %s cannot be", ManifestName, f.Name)
		}
		seen[f.Name] = true
	}
	return m, nil
}

var plainName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,120}$`)

// Fault is a file of an export that is not as its manifest says.
type Fault struct {
	// Code is one of:
	//
	//	no-manifest    there is no manifest: the export was not finished
	//	bad-manifest   the manifest cannot be read
	//	file-missing   a file that the manifest names is not here
	//	file-changed   size or SHA-256 is another
	//	file-unknown   a file lies here that the manifest does not name
	Code string
	File string
	Err  error // may be nil
}

// CheckFolder holds the files of an exported folder against its manifest.
func CheckFolder(dir string) (Manifest, []Fault, error) {
	f, err := os.Open(filepath.Join(dir, ManifestName))
	if errors.Is(err, os.ErrNotExist) {
		return Manifest{}, []Fault{{Code: "no-manifest", File: ManifestName}}, nil
	}
	if err != nil {
		return Manifest{}, nil, err
	}
	m, unread := ReadManifest(f)
	if err := f.Close(); err != nil {
		return Manifest{}, nil, err
	}
	var faults []Fault
	if unread != nil {
		return Manifest{}, append(faults, Fault{"bad-manifest", ManifestName, unread}), nil //nolint:nilerr // that it cannot be read is what was found
	}
	var named []string
	for _, want := range m.Files {
		named = append(named, want.Name)
		got, err := measure(filepath.Join(dir, want.Name))
		switch {
		case errors.Is(err, os.ErrNotExist):
			faults = append(faults, Fault{Code: "file-missing", File: want.Name})
		case err != nil:
			return m, faults, err
		case got.Bytes != want.Bytes || got.SHA256 != want.SHA256:
			faults = append(faults, Fault{Code: "file-changed", File: want.Name})
		}
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return m, faults, err
	}
	for _, e := range entries {
		if !e.IsDir() && e.Name() != ManifestName && !slices.Contains(named, e.Name()) {
			faults = append(faults, Fault{Code: "file-unknown", File: e.Name()})
		}
	}
	return m, faults, nil
}

func measure(path string) (m ManifestFile, err error) {
	f, err := os.Open(path)
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	sum := sha256.New()
	if m.Bytes, err = io.Copy(sum, f); err != nil {
		return m, err
	}
	return ManifestFile{filepath.Base(path), m.Bytes, hex.EncodeToString(sum.Sum(nil))}, nil
}
