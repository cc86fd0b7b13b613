package core_test

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	tmplparse "text/template/parse"

	"chinlift/core"
	"chinlift/core/quantity"
	"chinlift/core/store"
	"chinlift/core/term"
	"chinlift/core/timeline"
	"chinlift/core/word"
)

// These tests hold the catalogue of words against the sources. A key that a
// source names and English lacks would show as "[key]" on a screen; a text
// that no source names is dead weight for every translator.
//
// What counts as naming a key:
//
//   - in Go, a literal as the first argument of a call of Say, Count or Has,
//     or as the argument of word.Key;
//   - in a template, {{say "key"}}, {{count "key" n}}, {{has "key"}}, also in
//     parentheses;
//   - any other literal that is a key, in Go or in a template: it may stand in
//     a table or go through a helper. It counts as used; word.Key says more,
//     because it is also missed when the catalogue lacks it;
//   - for keys that are put together at run time, a comment
//     //word:prefix sign.
//     in Go or {{/* word:prefix sign. */}} in a template: every key that
//     starts so counts as used;
//   - term.<list>.<code> for each code of core/term.
//
// Where a call also names its placeholders by literals, they must be those of
// the text.

// A use is one place that names a key.
type use struct {
	at      string   // file:line
	key     string   // or the prefix
	counted bool     // by Count: key.one and key.other are meant
	names   []string // placeholders that the call fills, sorted
	named   bool     // names is known
}

// uses is all that was found.
type uses struct {
	keys, prefixes []use
	mentions       map[string]bool // literals with a point in them
}

func (u *uses) mention(s string) {
	if !strings.Contains(s, ".") {
		return
	}
	if u.mentions == nil {
		u.mentions = map[string]bool{}
	}
	u.mentions[s] = true
}

func TestWords(t *testing.T) {
	var found uses
	files := 0
	for _, root := range []string{".", "../mobile", "../sync"} {
		if _, err := os.Stat(root); errors.Is(err, fs.ErrNotExist) {
			continue // not built yet; the count below sees to it that all is not nothing
		}
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.IsDir() {
				if d.Name() == "testdata" {
					return fs.SkipDir
				}
				return nil
			}
			var read func(path string, src []byte) error
			switch {
			case strings.HasSuffix(path, "_test.go"):
				return nil
			case strings.HasSuffix(path, ".go"):
				read = found.goFile
			case strings.HasSuffix(path, ".html"):
				read = found.template
			default:
				return nil
			}
			src, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			files++
			return read(path, src)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files == 0 {
		t.Fatal("no sources found: the test runs in the wrong folder")
	}
	for _, fault := range found.compare(word.English(), term.Lists()) {
		t.Error(fault)
	}
}

// Keys put together at run time hide from the test above. Here each code that
// such a key can be made of is asked for its words.
func TestWordsOfCodes(t *testing.T) {
	book, err := word.Open("en")
	if err != nil {
		t.Fatal(err)
	}
	s := core.Speaker{Book: book}
	for _, u := range quantity.Units() {
		a := quantity.Amount{Value: quantity.DecimalFromInt(2), Unit: u}
		if got := s.Amount(a); !strings.HasPrefix(got, "2") || u.Spelled() && got == "2" {
			t.Errorf("unit %s: 2 of it are %q", u, got)
		}
	}
	for _, kind := range timeline.Kinds() {
		book.Say("kind." + kind.Name())
		for name := range fieldNames(reflect.TypeOf(timeline.Blank(kind.Name())).Elem()) {
			book.Say("field." + name)
		}
	}
	for _, name := range []string{timeline.PrivateName, timeline.PrivateNumber, timeline.PrivateText} {
		book.Say("field." + name)
	}
	for code, at := range errorCodes(t) {
		if !book.Has("fielderror." + code) {
			t.Errorf("%s: the English catalogue has no key %q", at, "fielderror."+code)
		}
	}
	for _, code := range []string{store.CodeDiskFull, store.CodeIO, store.CodeDamaged, store.CodeBusy,
		store.CodeMissing, store.CodeNewer, store.CodeOlder, store.CodeFailed} {
		book.Say("storeerror." + code)
	}
	for _, fault := range book.Missing() {
		t.Errorf("the English catalogue lacks %s", fault)
	}
}

// fieldNames returns the JSON names of a payload's fields.
func fieldNames(of reflect.Type) map[string]bool {
	names := map[string]bool{}
	for i := range of.NumField() {
		f := of.Field(i)
		if f.Anonymous {
			maps.Copy(names, fieldNames(f.Type))
		} else if name, _, _ := strings.Cut(f.Tag.Get("json"), ","); name != "" {
			names[name] = true
		}
	}
	return names
}

// errorCodes returns the codes that a field error can carry, with where: those
// that core and core/timeline write as literals, and those of an entry as it
// was typed, which a form hands on.
func errorCodes(t *testing.T) map[string]string {
	codes := map[string]string{}
	for _, code := range []string{quantity.EntryEmpty, quantity.EntryNotANumber, quantity.EntryAmbiguousSeparator,
		quantity.EntryUnitDoesNotFit, quantity.EntryTooLong} {
		codes[code] = "core/quantity/entry.go"
	}
	var paths []string
	for _, pattern := range []string{"*.go", "timeline/*.go"} {
		some, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		paths = append(paths, some...)
	}
	fset := token.NewFileSet()
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(fset, path, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		take := func(e ast.Expr) {
			// Another function called bad takes a sentence.
			if code, ok := literal(e); ok && !strings.Contains(code, " ") {
				codes[code] = fset.Position(e.Pos()).String()
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.CallExpr:
				name := ""
				switch fun := n.Fun.(type) {
				case *ast.Ident:
					name = fun.Name
				case *ast.SelectorExpr:
					name = fun.Sel.Name
				}
				switch {
				case name == "fail" && len(n.Args) == 2:
					take(n.Args[1])
				case name == "bad" && len(n.Args) == 2 && filepath.Dir(path) == "timeline":
					take(n.Args[1])
				case name == "bad" && len(n.Args) == 2: // of a form: code and detail
					take(n.Args[0])
				}
			case *ast.CompositeLit:
				if name, ok := n.Type.(*ast.SelectorExpr); ok && name.Sel.Name != "FieldError" {
					return true
				} else if name, ok := n.Type.(*ast.Ident); ok && name.Name != "FieldError" {
					return true
				}
				for _, e := range n.Elts {
					if kv, ok := e.(*ast.KeyValueExpr); ok {
						if key, ok := kv.Key.(*ast.Ident); ok && key.Name == "Code" {
							take(kv.Value)
						}
					}
				}
			}
			return true
		})
	}
	// What is surely there shows that the search finds both ways of writing it.
	for _, code := range []string{"contradiction", "not-readable", "not-a-time"} {
		if codes[code] == "" {
			t.Errorf("no source gives the code %q: the search is broken", code)
		}
	}
	return codes
}

// compare returns what is wrong between the uses and a book, sorted.
func (u *uses) compare(book *word.Book, lists []term.ListInfo) []string {
	var faults []string
	used := map[string]bool{}
	for _, use := range u.keys {
		keys := []string{use.key}
		if use.counted {
			keys = []string{use.key + ".one", use.key + ".other"}
		}
		for _, key := range keys {
			used[key] = true
			if !book.Has(key) {
				faults = append(faults, fmt.Sprintf("%s: the English catalogue has no key %q", use.at, key))
				continue
			}
			if !use.named {
				continue
			}
			want := book.Placeholders(key)
			names := use.names
			if use.counted { // {n} is given by Count, and a form may leave it out
				isN := func(s string) bool { return s == "n" }
				want, names = slices.DeleteFunc(want, isN), slices.DeleteFunc(slices.Clone(names), isN)
			}
			if !slices.Equal(names, want) {
				faults = append(faults, fmt.Sprintf("%s: fills the placeholders %q, but the text of %q has %q", use.at, names, key, want))
			}
		}
	}
	for _, use := range u.prefixes {
		some := false
		for _, key := range book.Keys() {
			if strings.HasPrefix(key, use.key) {
				used[key], some = true, true
			}
		}
		if !some {
			faults = append(faults, fmt.Sprintf("%s: no key starts with %q", use.at, use.key))
		}
	}
	for _, list := range lists {
		for _, code := range list.Codes {
			key := "term." + list.Name + "." + code
			used[key] = true
			if !book.Has(key) {
				faults = append(faults, fmt.Sprintf("core/term: the English catalogue has no key %q", key))
			}
		}
	}
	for _, key := range book.Keys() {
		if !used[key] && !u.mentions[key] {
			faults = append(faults, fmt.Sprintf("catalogue/en.toml: no source uses the key %q", key))
		}
	}
	slices.Sort(faults)
	return slices.Compact(faults)
}

// goFile adds what a Go source names.
func (u *uses) goFile(path string, src []byte) error {
	fset := token.NewFileSet()
	file, err := parser.ParseFile(fset, path, src, parser.ParseComments)
	if err != nil {
		return err
	}
	at := func(n ast.Node) string {
		p := fset.Position(n.Pos())
		return fmt.Sprintf("%s:%d", filepath.ToSlash(p.Filename), p.Line)
	}
	for _, group := range file.Comments {
		for _, comment := range group.List {
			if prefix, ok := strings.CutPrefix(comment.Text, "//word:prefix"); ok {
				if err := u.prefix(at(comment), prefix); err != nil {
					return err
				}
			}
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if lit, ok := n.(*ast.BasicLit); ok {
			if s, ok := literal(lit); ok {
				u.mention(s)
			}
		}
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) == 0 {
			return true
		}
		fun, ok := call.Fun.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		key, ok := literal(call.Args[0])
		if !ok {
			return true
		}
		use := use{at: at(call), key: key}
		rest := call.Args[1:]
		switch fun.Sel.Name {
		case "Say":
			use.named = true
		case "Count":
			// A method Count of something else takes words without a point;
			// strings.Count, the usual one, may be given anything.
			if pkg, ok := fun.X.(*ast.Ident); ok && (pkg.Name == "strings" || pkg.Name == "bytes") || len(rest) == 0 {
				return true
			}
			use.counted, use.named = true, true
			rest = rest[1:]
		case "Has":
			// url.Values and sets have this method too; every key of the
			// catalogue has a point in it.
			if !strings.Contains(key, ".") {
				return true
			}
		case "Key":
			if pkg, ok := fun.X.(*ast.Ident); !ok || pkg.Name != "word" {
				return true
			}
		default:
			return true
		}
		if call.Ellipsis.IsValid() {
			use.named = false
		}
		for i := 0; i < len(rest) && use.named; i += 2 {
			name, ok := literal(rest[i])
			use.named = ok
			use.names = append(use.names, name)
		}
		slices.Sort(use.names)
		u.keys = append(u.keys, use)
		return true
	})
	return nil
}

// literal returns the value of a string literal.
func literal(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(lit.Value)
	return s, err == nil
}

// template adds what an HTML template names.
func (u *uses) template(path string, src []byte) error {
	trees := map[string]*tmplparse.Tree{}
	tree := tmplparse.New(filepath.ToSlash(path))
	tree.Mode = tmplparse.ParseComments | tmplparse.SkipFuncCheck
	if _, err := tree.Parse(string(src), "", "", trees); err != nil {
		return err
	}
	for _, name := range slices.Sorted(maps.Keys(trees)) {
		if err := u.node(trees[name], trees[name].Root); err != nil {
			return err
		}
	}
	return nil
}

// node adds what a part of a template names.
func (u *uses) node(tree *tmplparse.Tree, n tmplparse.Node) error {
	branch := func(b *tmplparse.BranchNode) error {
		if err := u.pipe(tree, b.Pipe); err != nil {
			return err
		}
		if err := u.node(tree, b.List); err != nil || b.ElseList == nil {
			return err
		}
		return u.node(tree, b.ElseList)
	}
	switch n := n.(type) {
	case *tmplparse.ListNode:
		for _, child := range n.Nodes {
			if err := u.node(tree, child); err != nil {
				return err
			}
		}
	case *tmplparse.ActionNode:
		return u.pipe(tree, n.Pipe)
	case *tmplparse.TemplateNode:
		return u.pipe(tree, n.Pipe)
	case *tmplparse.IfNode:
		return branch(&n.BranchNode)
	case *tmplparse.RangeNode:
		return branch(&n.BranchNode)
	case *tmplparse.WithNode:
		return branch(&n.BranchNode)
	case *tmplparse.PipeNode:
		return u.pipe(tree, n)
	case *tmplparse.StringNode:
		u.mention(n.Text)
	case *tmplparse.CommentNode:
		text := strings.TrimSpace(strings.TrimSuffix(strings.TrimPrefix(n.Text, "/*"), "*/"))
		if prefix, ok := strings.CutPrefix(text, "word:prefix"); ok {
			return u.prefix(place(tree, n), prefix)
		}
	}
	return nil
}

func (u *uses) pipe(tree *tmplparse.Tree, pipe *tmplparse.PipeNode) error {
	if pipe == nil {
		return nil
	}
	for i, cmd := range pipe.Cmds {
		for _, arg := range cmd.Args {
			if err := u.node(tree, arg); err != nil {
				return err
			}
		}
		fun, ok := cmd.Args[0].(*tmplparse.IdentifierNode)
		if !ok || len(cmd.Args) < 2 {
			continue
		}
		key, ok := cmd.Args[1].(*tmplparse.StringNode)
		if !ok {
			continue
		}
		use := use{at: place(tree, cmd), key: key.Text}
		rest := cmd.Args[2:]
		switch fun.Ident {
		case "say":
			use.named = i == 0 // a piped value is one argument more
		case "count":
			use.counted = true
			if use.named = i == 0 && len(rest) > 0; use.named {
				rest = rest[1:]
			}
		case "has":
		default:
			continue
		}
		for i := 0; i < len(rest) && use.named; i += 2 {
			name, ok := rest[i].(*tmplparse.StringNode)
			if use.named = ok; ok {
				use.names = append(use.names, name.Text)
			}
		}
		slices.Sort(use.names)
		u.keys = append(u.keys, use)
	}
	return nil
}

// place says where in a template n stands.
func place(tree *tmplparse.Tree, n tmplparse.Node) string {
	location, _ := tree.ErrorContext(n)
	return location
}

func (u *uses) prefix(at, prefix string) error {
	prefix = strings.TrimSpace(prefix)
	if prefix == "" || !strings.ContainsRune("._-", rune(prefix[len(prefix)-1])) {
		return fmt.Errorf("%s: the prefix %q ends in the midst of a word, so that it could take in the keys of others", at, prefix)
	}
	u.prefixes = append(u.prefixes, use{at: at, key: prefix})
	return nil
}

// The test above is only worth what it finds: here it gets sources with every
// fault it is meant to find.
func TestWordsFindsFaults(t *testing.T) {
	book, err := word.Parse("en", []byte(`
[language]
name = "English"
decimal = "."
[used]
go = "x"
html = "{a} and {b}"
has = "x"
key = "x"
helper = "x"
dict = "x"
[used.count]
one = "one of {drug}"
other = "{n} of {drug}"
[sign]
pupil_wide = "x"
[unused]
text = "x"
[term.route]
mouth = "x"
gone = "x"
`), nil)
	if err != nil {
		t.Fatal(err)
	}
	const goSource = `package p
//word:prefix sign.
//word:prefix stage.
func f() {
	b.Say("used.go")
	b.Say("gone.go")
	b.Say("used.go", "n", 1)
	b.Say("used.html", args...)
	b.Count("used.count", 2, "drug", d)
	b.Count("used.count", 2)
	b.Count("gone.count", 2)
	b.Has("used.has")
	form.Has("name")
	strings.Count("a.b", ".")
	other.Key("not.a.key")
	one("used.helper", 1)
	one("not.there", 1)
	var k = word.Key("used.key")
	// b.Say("in.a.comment")
	b.Say(code)
}`
	const template = `{{define "x"}}{{if has "used.has"}}{{say "used.html" "a" 1}}{{else}}{{with .X}}{{say "used.html" "a" .A "b" (say "gone.html")}}{{end}}{{end}}{{end}}
{{/* word:prefix phase. */}}
{{template "x" (count "used.count" 2 "drug" .D)}}
{{range .L}}{{.N | count "gone.piped"}}{{end}} say "not.a.key"
{{template "x" (dict "label" "used.dict")}}`
	var found uses
	if err := found.goFile("p.go", []byte(goSource)); err != nil {
		t.Fatal(err)
	}
	if err := found.template("p.html", []byte(template)); err != nil {
		t.Fatal(err)
	}
	got := found.compare(book, []term.ListInfo{{Name: "route", Codes: []string{"mouth", "nose"}}})
	want := []string{
		`catalogue/en.toml: no source uses the key "term.route.gone"`,
		`catalogue/en.toml: no source uses the key "unused.text"`,
		`core/term: the English catalogue has no key "term.route.nose"`,
		`p.go:10: fills the placeholders [], but the text of "used.count.one" has ["drug"]`,
		`p.go:10: fills the placeholders [], but the text of "used.count.other" has ["drug"]`,
		`p.go:11: the English catalogue has no key "gone.count.one"`,
		`p.go:11: the English catalogue has no key "gone.count.other"`,
		`p.go:3: no key starts with "stage."`,
		`p.go:6: the English catalogue has no key "gone.go"`,
		`p.go:7: fills the placeholders ["n"], but the text of "used.go" has []`,
		`p.html:1:47: fills the placeholders ["a"], but the text of "used.html" has ["a" "b"]`,
		`p.html:1:124: the English catalogue has no key "gone.html"`,
		`p.html:2:5: no key starts with "phase."`,
		`p.html:4:18: the English catalogue has no key "gone.piped.one"`,
		`p.html:4:18: the English catalogue has no key "gone.piped.other"`,
	}
	slices.Sort(want)
	// The column of a node is not what is tested here.
	if a, b := uncolumned(got), uncolumned(want); !slices.Equal(a, b) {
		t.Errorf("found\n%s\nwant\n%s", strings.Join(a, "\n"), strings.Join(b, "\n"))
	}
	for _, prefix := range []string{"", "sign"} {
		if err := found.goFile("p.go", []byte("package p\n\n//word:prefix "+prefix+"\n")); err == nil {
			t.Errorf("the prefix %q is accepted", prefix)
		}
	}
}

// uncolumned takes the column out of p.html:line:column.
func uncolumned(faults []string) []string {
	var out []string
	for _, f := range faults {
		parts := strings.SplitN(f, ":", 4)
		if parts[0] == "p.html" {
			f = parts[0] + ":" + parts[1] + ":" + parts[3]
		}
		out = append(out, f)
	}
	return out
}
