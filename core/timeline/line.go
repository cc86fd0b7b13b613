package timeline

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"chinlift/core/term"
)

// Hash is a SHA-256, written as 64 lower-case hexadecimal digits.
type Hash string

// NoHash stands before the first line of a log.
const NoHash Hash = "0000000000000000000000000000000000000000000000000000000000000000"

// Valid reports whether h is written as a hash is.
func (h Hash) Valid() bool {
	if len(h) != 2*sha256.Size {
		return false
	}
	for _, c := range []byte(h) {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

// LineHash is SHA-256 over the 32 bytes of prev and the exact bytes of e. It
// shows damage, gaps and reordering. It is not a signature: whoever can write
// the file can make a new chain that verifies.
func LineHash(prev Hash, e []byte) (Hash, error) {
	raw, err := hex.DecodeString(string(prev))
	if err != nil || len(raw) != sha256.Size {
		return "", fmt.Errorf("hash %q is not 64 hexadecimal digits", prev)
	}
	sum := sha256.New()
	sum.Write(raw)
	sum.Write(e)
	return Hash(hex.EncodeToString(sum.Sum(nil))), nil
}

// Commitment is what an event's private member holds: SHA-256 over the exact
// bytes of the private part, which carry 32 random bytes of salt, so that a
// short name cannot be guessed from its hash once the part is destroyed.
func Commitment(p []byte) string {
	sum := sha256.Sum256(p)
	return hex.EncodeToString(sum[:])
}

// Private is the private part of an event: names, record numbers, free text,
// the hash of a photograph. Keys are short English words; "salt" is reserved.
type Private map[string]string

// The keys of a private part that the companion writes.
const (
	PrivateSalt   = "salt"
	PrivateName   = "name"
	PrivateNumber = "number" // record number of the clinic
	PrivateText   = "text"   // free text: note, words of the surgeon, reason in words
	PrivatePhoto  = "photo"  // SHA-256 of a blob
)

// Line is one line of a log: the exact bytes of the event, the exact bytes of
// the private part where it is there, the hash, and a reading of them.
type Line struct {
	E       []byte // exact bytes of the event
	P       []byte // exact bytes of the private part; nil where it was left out, destroyed, or never was
	H       Hash
	Event   Event
	Payload Payload // never nil: a kind that is not known here reads as *Unknown
	Private Private // nil where P is
	Sealed  bool    // the private part is stored, and cannot be opened now: P is nil
}

// ErrDamaged is what Verify wraps: the line is not what was written.
var ErrDamaged = errors.New("line is damaged")

// maxLine bounds one line, so that a broken file cannot fill the memory.
// The largest payload, a note with its text, stays far below.
const maxLine = 1 << 20

// Bytes gives the line as it stands in a file, without the line feed. The
// private part is left out unless asked for.
func (l *Line) Bytes(private bool) []byte {
	var b bytes.Buffer
	b.WriteString(`{"e":`)
	b.Write(l.E)
	if private && l.P != nil {
		b.WriteString(`,"p":`)
		b.Write(l.P)
	}
	b.WriteString(`,"h":"`)
	b.WriteString(string(l.H))
	b.WriteString(`"}`)
	return b.Bytes()
}

// ParseLine reads one line of a file. It keeps the bytes of event and private
// part as they stand. It checks the form, not the hash: see Verify.
func ParseLine(b []byte) (Line, error) {
	if len(b) > maxLine {
		return Line{}, fmt.Errorf("line of %d bytes is longer than %d", len(b), maxLine)
	}
	if e, p, h, ok := split(b); ok && utf8.Valid(b) {
		return ReadLine(e, p, h)
	}
	if err := strictJSON(b); err != nil {
		return Line{}, err
	}
	var parts struct {
		E json.RawMessage `json:"e"`
		P json.RawMessage `json:"p"`
		H Hash            `json:"h"`
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&parts); err != nil {
		return Line{}, fmt.Errorf("line is not {\"e\":…,\"p\":…,\"h\":…}: %w", err)
	}
	if parts.E == nil {
		return Line{}, errors.New("line has no event (member e)")
	}
	if string(parts.P) == "null" {
		return Line{}, errors.New("private part (member p) is null; leave it out instead")
	}
	return ReadLine(parts.E, parts.P, parts.H)
}

// ReadLine makes a Line of its stored parts. The slices are kept.
func ReadLine(e, p []byte, h Hash) (Line, error) { return readLine(e, p, h, decode) }

// ReadBare is ReadLine for those who want the envelope and the order of
// versions: the payload is nil, but for a strike, a restoring or a move, which
// say what becomes of what they correct, and for the end of a case.
func ReadBare(e, p []byte, h Hash) (Line, error) {
	return readLine(e, p, h, func(kind Kind, data json.RawMessage) Payload {
		if name := kind.Name(); name == "case-closed" || kinds[name].correctionOnly {
			return decode(kind, data)
		}
		return nil
	})
}

func readLine(e, p []byte, h Hash, decode func(Kind, json.RawMessage) Payload) (Line, error) {
	if !h.Valid() {
		return Line{}, errors.New("hash (member h) is not 64 hexadecimal digits")
	}
	l := Line{E: e, H: h}
	var ok bool
	if l.Event, ok = readEvent(e); !ok {
		if err := json.Unmarshal(e, &l.Event); err != nil {
			return Line{}, fmt.Errorf("event cannot be read: %w", err)
		}
	}
	if err := l.Event.check(); err != nil {
		return Line{}, err
	}
	l.Payload = decode(l.Event.Kind, l.Event.Data)
	if p != nil {
		l.P = p
		if l.Private, ok = readPrivate(p); !ok {
			l.Private = nil
			if err := json.Unmarshal(p, &l.Private); err != nil || l.Private == nil {
				return Line{}, fmt.Errorf("event %s: private part is not an object of texts", l.Event.ID)
			}
		}
	}
	return l, nil
}

// WithoutPrivate gives the line as it is once its private part is gone.
func (l Line) WithoutPrivate() Line {
	l.P, l.Private, l.Sealed = nil, nil, false
	return l
}

// Verify checks the hash, and the private part against its commitment.
func (l *Line) Verify() error {
	h, err := LineHash(l.Event.Prev, l.E)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDamaged, err)
	}
	if h != l.H {
		return fmt.Errorf("%w: event %s (log %s, number %d) does not match its hash", ErrDamaged, l.Event.ID, l.Event.Log, l.Event.Seq)
	}
	if l.P != nil && Commitment(l.P) != l.Event.Private {
		return fmt.Errorf("%w: the private part of event %s (log %s, number %d) does not match its commitment", ErrDamaged, l.Event.ID, l.Event.Log, l.Event.Seq)
	}
	return nil
}

// check looks at what any version of the envelope must have.
func (e *Event) check() error {
	bad := func(member, why string) error {
		return fmt.Errorf("event %q: %s %s", e.ID, member, why)
	}
	switch {
	case e.V < 1:
		return bad("v", "is missing")
	case !canonicalUUID(e.ID):
		return bad("id", "is not a UUID in lower case")
	case !canonicalUUID(e.Log):
		return bad("log", "is not a UUID in lower case")
	case e.Seq < 1:
		return bad("seq", "is not 1 or more")
	case e.Tick < 1:
		return bad("tick", "is not 1 or more")
	case !e.Prev.Valid():
		return bad("prev", "is not 64 hexadecimal digits")
	case e.Scope != ScopeCase && e.Scope != ScopeClinic && e.Scope != ScopeDevice:
		return bad("scope", "is not case, clinic or device")
	case e.About == "":
		return bad("about", "is missing")
	case e.At.IsZero():
		return bad("at", "is missing")
	case e.Entered.Wall.IsZero():
		return bad("entered", "has no wall clock")
	case !canonicalUUID(e.Author):
		return bad("author", "is not a UUID in lower case")
	case !e.Kind.valid():
		return bad("kind", "is not a name and a version, as in vitals/1")
	case len(e.Data) == 0 || e.Data[0] != '{':
		return bad("data", "is not an object")
	case e.Private != "" && !Hash(e.Private).Valid():
		return bad("private", "is not 64 hexadecimal digits")
	case e.Amends == "" && len(e.Replaces) > 0:
		return bad("replaces", "stands without amends")
	case e.Amends != "" && !canonicalUUID(e.Amends):
		return bad("amends", "is not a UUID in lower case")
	}
	for _, id := range e.Replaces {
		if !canonicalUUID(id) {
			return bad("replaces", "holds something that is not a UUID in lower case")
		}
	}
	return nil
}

func canonicalUUID(s string) bool {
	if len(s) != 36 {
		return false
	}
	for i := range len(s) {
		switch c := s[i]; {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if c != '-' {
				return false
			}
		case (c < '0' || c > '9') && (c < 'a' || c > 'f'):
			return false
		}
	}
	return true
}

// strictJSON refuses what two readers could read in two ways: text that is
// not UTF-8, a member that stands twice or in capitals, anything after the
// end, line breaks.
func strictJSON(b []byte) error {
	if !utf8.Valid(b) {
		return errors.New("line is not UTF-8")
	}
	if bytes.ContainsAny(b, "\r\n") {
		return errors.New("line has a line break inside")
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	if err := walkJSON(d, 0); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("line goes on after its end")
	}
	return nil
}

func walkJSON(d *json.Decoder, depth int) error {
	if depth > 32 {
		return errors.New("line is nested too deeply")
	}
	t, err := d.Token()
	if err != nil {
		return fmt.Errorf("line is not JSON: %w", err)
	}
	delim, ok := t.(json.Delim)
	if !ok {
		return nil
	}
	seen := map[string]bool{}
	for d.More() {
		if delim == '{' {
			k, err := d.Token()
			if err != nil {
				return fmt.Errorf("line is not JSON: %w", err)
			}
			name, _ := k.(string)
			if seen[name] {
				return fmt.Errorf("member %q stands twice", name)
			}
			// Go reads "ID" as "id", other readers do not.
			if strings.ToLower(strings.ToUpper(name)) != name {
				return fmt.Errorf("member %q is not in lower case", name)
			}
			seen[name] = true
		}
		if err := walkJSON(d, depth+1); err != nil {
			return err
		}
	}
	if _, err := d.Token(); err != nil {
		return fmt.Errorf("line is not JSON: %w", err)
	}
	return nil
}

// Draft is what the companion wants to write: an event that has no place in a
// log yet. The store gives it one.
type Draft struct {
	ID       string // UUIDv7
	Scope    Scope
	About    string
	At       Moment
	Entered  Entered
	Author   string
	Payload  Payload
	Private  Private // without salt
	Amends   string
	Replaces []string
	Reason   term.Reason
}

// Check says whether the draft may be written; a *FieldError names what is
// wrong. It is stricter than what is read: an unknown kind can be kept, but
// never written.
func (d *Draft) Check() error {
	if d.Payload == nil {
		return &FieldError{Field: "kind", Code: "missing"}
	}
	name := d.Payload.Kind().Name()
	bad := func(field, code string) error { return &FieldError{Kind: name, Field: field, Code: code} }
	k, ok := kinds[name]
	switch {
	case !ok:
		return bad("kind", "not-in-list")
	case !canonicalUUID(d.ID):
		return bad("id", "not-an-id")
	case !canonicalUUID(d.Author):
		return bad("author", "not-an-id")
	case !slices.Contains(k.scopes, d.Scope):
		return bad("scope", "not-in-list")
	case d.About == "":
		return bad("about", "missing")
	case d.Scope == ScopeCase && !canonicalUUID(d.About):
		return bad("about", "not-an-id")
	case d.At.IsZero():
		return bad("at", "missing")
	case d.Entered.Wall.IsZero():
		return bad("entered", "missing")
	case k.correctionOnly && d.Amends == "":
		return bad("amends", "missing")
	case d.Amends != "" && !canonicalUUID(d.Amends):
		return bad("amends", "not-an-id")
	case d.Amends == d.ID:
		return bad("amends", "contradiction")
	case d.Amends != "" && len(d.Replaces) == 0:
		return bad("replaces", "missing")
	case d.Amends == "" && (len(d.Replaces) > 0 || d.Reason != ""):
		return bad("amends", "missing")
	case d.Amends != "" && !term.ReasonList.Has(d.Reason) && (d.Reason != "" || k.correctionOnly):
		// A new content that comes without a reason is a fact all the same.
		// Why an entry is struck, brought back or moved is part of the act.
		return bad("reason", "not-in-list")
	}
	for key := range d.Private {
		if key == PrivateSalt {
			return bad("private", "contradiction")
		}
		if !(Kind(key + "/1")).valid() {
			return bad("private", "not-in-list") // could not be read back: see strictJSON
		}
	}
	return d.Payload.Check()
}

// Seal gives the draft its place: number, tick and the hash before, and makes
// the line. Two seals of one draft with a private part differ by their salt.
func (d *Draft) Seal(log string, seq, tick int64, prev Hash) (Line, error) {
	if err := d.Check(); err != nil {
		return Line{}, err
	}
	data, err := marshal(d.Payload)
	if err != nil {
		return Line{}, err
	}
	ev := Event{
		V: Envelope, ID: d.ID, Log: log, Seq: seq, Tick: tick, Prev: prev,
		Scope: d.Scope, About: d.About, At: d.At, Entered: d.Entered, Author: d.Author,
		Kind: d.Payload.Kind(), Data: data,
		Amends: d.Amends, Replaces: d.Replaces, Reason: d.Reason,
	}
	var p []byte
	if len(d.Private) > 0 {
		salt := make([]byte, 32)
		if _, err := rand.Read(salt); err != nil {
			return Line{}, err
		}
		all := Private{PrivateSalt: base64.RawURLEncoding.EncodeToString(salt)}
		for k, v := range d.Private {
			all[k] = v
		}
		if p, err = marshal(all); err != nil {
			return Line{}, err
		}
		ev.Private = Commitment(p)
	}
	e, err := marshal(ev)
	if err != nil {
		return Line{}, err
	}
	h, err := LineHash(prev, e)
	if err != nil {
		return Line{}, err
	}
	l, err := ReadLine(e, p, h)
	if err != nil {
		return Line{}, err
	}
	if len(l.Bytes(true)) > maxLine {
		return Line{}, &FieldError{Kind: d.Payload.Kind().Name(), Field: "private", Code: "too-long"}
	}
	return l, nil
}

// marshal writes JSON without escaping <, > and &: the files are read by
// people too.
func marshal(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}
