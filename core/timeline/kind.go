package timeline

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"

	"chinlift/core/quantity"
	"chinlift/core/term"
)

// Kind is the name and version of a payload: "vitals/1".
type Kind string

// Name is the kind without its version.
func (k Kind) Name() string { name, _, _ := strings.Cut(string(k), "/"); return name }

// Version is the version of the payload, or 0.
func (k Kind) Version() int {
	_, v, _ := strings.Cut(string(k), "/")
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 || strconv.Itoa(n) != v {
		return 0
	}
	return n
}

func (k Kind) valid() bool {
	name := k.Name()
	if name == "" || k.Version() == 0 {
		return false
	}
	for _, c := range name {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '-' {
			return false
		}
	}
	return true
}

// Payload is the typed content of an event. Check answers a *FieldError that
// names the first field at fault, or nil.
type Payload interface {
	Kind() Kind
	Check() error
}

// Unknown is the payload of an event whose kind or version this program does
// not know, or whose data it cannot read. The bytes are kept; the entry is
// shown as one that a newer version wrote.
type Unknown struct {
	As  Kind
	Why string // empty for a kind that is simply not known
}

// Kind is the kind as it stands in the event.
func (u *Unknown) Kind() Kind { return u.As }

// Check always fails: what is not understood is kept, never written.
func (u *Unknown) Check() error {
	return &FieldError{Kind: u.As.Name(), Field: "kind", Code: "not-in-list"}
}

// kindInfo is what is known of one kind.
type kindInfo struct {
	version        int
	scopes         []Scope
	correctionOnly bool
	blank          func() Payload
	// older turns the data of an older version into that of the next one.
	// Golden lines of every version stay in testdata for ever.
	older map[int]func(json.RawMessage) (json.RawMessage, error)
}

var (
	inCase        = []Scope{ScopeCase}
	inClinic      = []Scope{ScopeClinic}
	inDevice      = []Scope{ScopeDevice}
	anywhere      = []Scope{ScopeCase, ScopeClinic, ScopeDevice}
	caseAndClinic = []Scope{ScopeCase, ScopeClinic}
)

// kinds is the list of all kinds. To add one: a file with the type, its Kind
// and Check; a row here; a golden line; the words under kind.<name>.
var kinds = map[string]kindInfo{
	"log-opened": {1, inDevice, false, func() Payload { return new(LogOpened) }, nil},
	"person":     {1, inClinic, false, func() Payload { return new(Person) }, nil},
	"setting":    {1, inClinic, false, func() Payload { return new(ClinicSetting) }, nil},
	"confirmed":  {1, inClinic, false, func() Payload { return new(Confirmed) }, nil},
	"set-agreed": {1, inClinic, false, func() Payload { return new(SetAgreed) }, nil},
	"clinic-key": {1, inClinic, false, func() Payload { return new(ClinicKey) }, nil},
	"claimed":    {1, inClinic, false, func() Payload { return new(Claimed) }, nil},
	"stock":      {1, inClinic, false, func() Payload { return new(Stock) }, nil},
	"kit":        {1, caseAndClinic, false, func() Payload { return new(KitItem) }, nil},
	"destroyed":  {1, caseAndClinic, false, func() Payload { return new(IdentityDestroyed) }, nil},

	"case-opened": {1, inCase, false, func() Payload { return new(CaseOpened) }, nil},
	"case-closed": {1, inCase, false, func() Payload { return new(CaseClosed) }, nil},
	"outcome":     {1, inCase, false, func() Payload { return new(Outcome) }, nil},
	"facts":       {1, inCase, false, func() Payload { return new(Facts) }, nil},
	"intake":      {1, inCase, false, func() Payload { return new(Intake) }, nil},
	"baseline":    {1, inCase, false, func() Payload { return new(Baseline) }, nil},
	"plan":        {1, inCase, false, func() Payload { return new(Plan) }, nil},
	"phase":       {1, inCase, false, func() Payload { return new(Phase) }, nil},
	"vitals":      {1, inCase, false, func() Payload { return new(Vitals) }, nil},
	"support":     {1, inCase, false, func() Payload { return new(Support) }, nil},
	"drug":        {1, inCase, false, func() Payload { return new(Drug) }, nil},
	"infusion":    {1, inCase, false, func() Payload { return new(Infusion) }, nil},
	"agent":       {1, inCase, false, func() Payload { return new(AgentDelivery) }, nil},
	"signs":       {1, inCase, false, func() Payload { return new(Signs) }, nil},
	"block":       {1, inCase, false, func() Payload { return new(Block) }, nil},
	"airway":      {1, inCase, false, func() Payload { return new(Airway) }, nil},
	"position":    {1, inCase, false, func() Payload { return new(Position) }, nil},
	"in":          {1, inCase, false, func() Payload { return new(In) }, nil},
	"out":         {1, inCase, false, func() Payload { return new(Out) }, nil},
	"step":        {1, inCase, false, func() Payload { return new(Step) }, nil},
	"birth":       {1, inCase, false, func() Payload { return new(Birth) }, nil},
	"trouble":     {1, inCase, false, func() Payload { return new(Trouble) }, nil},
	"mark":        {1, inCase, false, func() Payload { return new(Mark) }, nil},
	"note":        {1, inCase, false, func() Payload { return new(Note) }, nil},
	"unwatched":   {1, inCase, false, func() Payload { return new(Unwatched) }, nil},
	"watch":       {1, inCase, false, func() Payload { return new(Watch) }, nil},
	"owed":        {1, inCase, false, func() Payload { return new(Owed) }, nil},
	"waking":      {1, inCase, false, func() Payload { return new(Waking) }, nil},
	"pause":       {1, inCase, false, func() Payload { return new(Pause) }, nil},
	"stomach":     {1, inCase, false, func() Payload { return new(Stomach) }, nil},
	"team":        {1, inCase, false, func() Payload { return new(Team) }, nil},
	"consulted":   {1, inCase, false, func() Payload { return new(Consulted) }, nil},
	"access":      {1, inCase, false, func() Payload { return new(Access) }, nil},
	"attached":    {1, inCase, false, func() Payload { return new(AttachedTo) }, nil},
	"monitors":    {1, inCase, false, func() Payload { return new(Monitors) }, nil},
	"handover":    {1, inCase, false, func() Payload { return new(Handover) }, nil},
	"follow-up":   {1, inCase, false, func() Payload { return new(FollowUp) }, nil},
	"performed":   {1, inCase, false, func() Payload { return new(Performed) }, nil},
	"depth":       {1, inCase, false, func() Payload { return new(Depth) }, nil},

	"struck":   {1, anywhere, true, func() Payload { return new(Struck) }, nil},
	"restored": {1, anywhere, true, func() Payload { return new(Restored) }, nil},
	"moved":    {1, inCase, true, func() Payload { return new(Moved) }, nil},
}

// Kinds gives every kind that can be written, sorted by name.
func Kinds() []Kind {
	var all []Kind
	for _, name := range slices.Sorted(maps.Keys(kinds)) {
		all = append(all, Kind(name+"/"+strconv.Itoa(kinds[name].version)))
	}
	return all
}

// Blank gives an empty payload of the kind with this name, or nil.
func Blank(name string) Payload {
	if k, ok := kinds[name]; ok {
		return k.blank()
	}
	return nil
}

// DecodePayload reads a payload strictly, as for writing: a member that the
// kind does not have is an error.
func DecodePayload(name string, data []byte) (Payload, error) {
	p := Blank(name)
	if p == nil {
		return nil, &FieldError{Kind: name, Field: "kind", Code: "not-in-list"}
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(p); err != nil {
		return nil, &FieldError{Kind: name, Field: "data", Code: "not-readable", Detail: err.Error()}
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, &FieldError{Kind: name, Field: "data", Code: "not-readable", Detail: "it goes on after its end"}
	}
	return p, p.Check()
}

// decode reads what is stored, of whatever version, and never fails.
func decode(kind Kind, data json.RawMessage) Payload {
	k, ok := kinds[kind.Name()]
	v := kind.Version()
	if !ok || v > k.version {
		return &Unknown{As: kind}
	}
	for ; v < k.version; v++ {
		up, ok := k.older[v]
		if !ok {
			return &Unknown{As: kind, Why: fmt.Sprintf("version %d has no reader", v)}
		}
		next, err := up(data)
		if err != nil {
			return &Unknown{As: kind, Why: err.Error()}
		}
		data = next
	}
	p := k.blank()
	if err := json.Unmarshal(data, p); err != nil {
		return &Unknown{As: kind, Why: err.Error()}
	}
	if err := p.Check(); err != nil {
		return &Unknown{As: kind, Why: err.Error()}
	}
	return p
}

// FieldError says which field of which kind cannot be written, and why, by
// code: the screens make the sentence.
type FieldError struct {
	Kind   string // "vitals"
	Field  string // "systolic"
	Code   string // missing, not-in-list, wrong-unit, out-of-bounds, contradiction, too-long, too-many, not-an-id, not-plain, not-readable
	Low    string // out-of-bounds: the least that is accepted, as "20 mm[Hg]"
	High   string
	Detail string // for the log, not for the reader
}

func (e *FieldError) Error() string {
	s := e.Kind + ": " + e.Field + ": " + e.Code
	if e.Low != "" {
		s += " (" + e.Low + " to " + e.High + ")"
	}
	if e.Detail != "" {
		s += ": " + e.Detail
	}
	return s
}

// checker collects the first fault of a payload.
type checker struct {
	kind  string
	first *FieldError
}

func check(p Payload) *checker { return &checker{kind: p.Kind().Name()} }

func (c *checker) fail(field, code string) {
	if c.first == nil {
		c.first = &FieldError{Kind: c.kind, Field: field, Code: code}
	}
}

func (c *checker) err() error {
	if c.first == nil {
		return nil // a nil *FieldError in an error would not be nil
	}
	return c.first
}

// bounds is fail for a number that is out of them.
func (c *checker) bounds(field, low, high string) {
	if c.first == nil {
		c.first = &FieldError{Kind: c.kind, Field: field, Code: "out-of-bounds", Low: low, High: high}
	}
}

// amount checks an optional amount against the bounds of what can be, not of
// what is healthy: they catch a slipped finger or a wrong unit, no more. The
// bounds are from memory and wide on purpose.
func (c *checker) amount(field string, a quantity.Amount, low, high string) {
	if a.IsZero() || c.first != nil {
		return
	}
	lo, hi := bound(low), bound(high)
	ok, err := a.Between(lo, hi)
	switch {
	case err != nil:
		c.first = &FieldError{Kind: c.kind, Field: field, Code: "wrong-unit", Low: low, High: high, Detail: err.Error()}
	case !ok:
		c.bounds(field, low, high)
	}
}

// parsed holds the bounds, which are constants of this package: every line that
// is read is held against some.
var parsed sync.Map

func bound(s string) quantity.Amount {
	if a, ok := parsed.Load(s); ok {
		return a.(quantity.Amount)
	}
	a := quantity.MustParse(s)
	parsed.Store(s, a)
	return a
}

// oneOf is amount for a field that may be in one of several dimensions.
func (c *checker) oneOf(field string, a quantity.Amount, bounds ...[2]string) {
	if a.IsZero() || c.first != nil {
		return
	}
	var last *FieldError
	for _, b := range bounds {
		try := &checker{kind: c.kind}
		try.amount(field, a, b[0], b[1])
		if try.first == nil {
			return
		}
		if last == nil || try.first.Code == "out-of-bounds" {
			last = try.first
		}
	}
	c.first = last
}

func (c *checker) count(field string, n, low, high int) {
	if n < low || n > high {
		c.bounds(field, strconv.Itoa(low), strconv.Itoa(high))
	}
}

// name checks a code from an open list, such as a drug's: a clinic can add
// its own, so only the form is fixed.
func (c *checker) name(field, s string, need bool) {
	if s == "" {
		if need {
			c.fail(field, "missing")
		}
		return
	}
	if len(s) > 60 || !(Kind(s + "/1")).valid() {
		c.fail(field, "not-in-list")
	}
}

func (c *checker) id(field, s string, need bool) {
	if s == "" {
		if need {
			c.fail(field, "missing")
		}
		return
	}
	if !canonicalUUID(s) {
		c.fail(field, "not-an-id")
	}
}

func code[C ~string](c *checker, field string, l *term.List[C], v C, need bool) {
	if v == "" {
		if need {
			c.fail(field, "missing")
		}
		return
	}
	if !l.Has(v) {
		c.fail(field, "not-in-list")
	}
}

func codes[C ~string](c *checker, field string, l *term.List[C], vs []C) {
	if len(vs) > 20 {
		c.fail(field, "too-many")
	}
	for i, v := range vs {
		code(c, field, l, v, true)
		if slices.Contains(vs[:i], v) {
			c.fail(field, "contradiction")
		}
	}
}
