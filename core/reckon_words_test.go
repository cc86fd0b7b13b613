package core_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"chinlift/core"
	"chinlift/core/patient"
	"chinlift/core/word"
)

// reckonCodes are the codes of calculations that the sources write down, by the
// table of the catalogue that has their words.
type reckonCodes map[string]map[string]bool

func (c reckonCodes) add(table string, e ast.Expr) {
	if code, ok := literal(e); ok {
		if c[table] == nil {
			c[table] = map[string]bool{}
		}
		c[table][code] = true
	}
}

// readCodes reads them from the sources: typed constants of core/patient, the
// constants of its errors, codes of core made as Coded{areaReckon, …}, and what
// the functions step, add, take and also are given.
func readCodes(t *testing.T) reckonCodes {
	codes := reckonCodes{}
	for _, pattern := range []string{"patient/*.go", "visit/*.go", "reckon*.go"} {
		paths, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range paths {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				t.Fatal(err)
			}
			codes.file(filepath.ToSlash(path), file)
		}
	}
	return codes
}

func (c reckonCodes) file(path string, file *ast.File) {
	inPatient := !strings.HasPrefix(path, "reckon") // other calculators say what they say in its types
	area := "reckon"
	if inPatient {
		area = "patient"
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			c.add(area+".any", n)
		case *ast.GenDecl:
			for _, spec := range n.Specs {
				v, ok := spec.(*ast.ValueSpec)
				if !ok || n.Tok != token.CONST || len(v.Values) != 1 {
					continue
				}
				of, _ := v.Type.(*ast.Ident)
				if of2, ok := v.Type.(*ast.SelectorExpr); ok {
					of = of2.Sel
				}
				switch {
				case of != nil && inPatient && slices.Contains([]string{"Rule", "Assumption", "Caution"}, of.Name):
					c.add("patient."+strings.ToLower(of.Name), v.Values[0])
				case of == nil && (path == "patient/answer.go" || path == "visit/code.go"):
					c.add("patient.error", v.Values[0])
				case of == nil && path == "reckon.go" && strings.HasPrefix(v.Names[0].Name, "input"):
					c.add("reckon.error", v.Values[0])
				}
			}
		case *ast.ValueSpec: // var cautionX = Coded{areaReckon, "x"}
			for i, name := range namesOf(n) {
				lit, ok := n.Values[i].(*ast.CompositeLit)
				if !ok || len(lit.Elts) != 2 {
					continue
				}
				for _, kind := range []string{"caution", "assumption"} {
					if strings.HasPrefix(name, kind) {
						c.add("reckon."+kind, lit.Elts[1])
					}
				}
			}
		case *ast.CallExpr:
			fun, ok := n.Fun.(*ast.SelectorExpr)
			if !ok || len(n.Args) == 0 {
				return true
			}
			switch fun.Sel.Name {
			case "step":
				c.add(area+".step", n.Args[0])
			case "add":
				if !inPatient && len(n.Args) == 3 {
					c.add("reckon.value", n.Args[0])
					c.add("reckon.rule", n.Args[1])
				}
			case "take", "also":
				c.add("reckon.value", n.Args[0])
			}
		}
		return true
	})
}

// namesOf gives the names of a declaration that has a value for each.
func namesOf(n *ast.ValueSpec) (names []string) {
	if len(n.Values) != len(n.Names) {
		return nil
	}
	for _, name := range n.Names {
		names = append(names, name.Name)
	}
	return names
}

// TestWordsOfReckonings holds the words of calculations against their codes, both
// ways: the keys are put together at run time, so that TestWords cannot.
func TestWordsOfReckonings(t *testing.T) {
	codes, book := readCodes(t), word.English()
	for _, table := range []string{"patient.rule", "patient.assumption", "patient.caution", "patient.error", "patient.step",
		"reckon.error", "reckon.rule", "reckon.assumption", "reckon.caution", "reckon.step", "reckon.value"} {
		if len(codes[table]) < 3 {
			t.Errorf("only %d codes found for [%s]: the search is broken", len(codes[table]), table)
		}
		for code := range codes[table] {
			if !book.Has(table + "." + code) {
				t.Errorf("the English catalogue has no key %q", table+"."+code)
			}
		}
	}
	known := map[string]bool{}
	for _, r := range core.Reckonings() {
		known["reckon.help."+r.Name] = true
		for _, in := range r.Inputs {
			known["reckon.input."+in.Name] = true
		}
	}
	// The parts of a burn, and the rules whose step bears their name.
	for _, part := range patient.Parts {
		known["patient.step.burned-"+string(part)] = true
	}
	for rule := range codes["patient.rule"] {
		known["patient.step."+rule] = true
	}
	for key := range known {
		if strings.HasPrefix(key, "reckon.") && !book.Has(key) {
			t.Errorf("the English catalogue has no key %q", key)
		}
	}
	for _, key := range book.Keys() {
		at := strings.LastIndexByte(key, '.')
		table, code := key[:at], key[at+1:]
		area, _, nested := strings.Cut(table, ".")
		if area != "patient" && area != "reckon" || !nested {
			continue
		}
		written := codes[area+".any"] // names of values that go through a table, codes of quantity that an entry has
		if known[key] || codes[table][code] || table == "reckon.value" && (written[code] || written[strings.ReplaceAll(code, "_", "-")] || codes["patient.any"][strings.ReplaceAll(code, "_", "-")]) ||
			(table == "patient.step" || table == "reckon.step" || table == "reckon.rule") && written[code] || table == "reckon.error" && entryCodes[code] {
			continue
		}
		t.Errorf("catalogue/en.toml: no calculation has the code of %q", key)
	}
}

// entryCodes are those of package quantity, and the one of package patient for
// which the command has words of its own.
var entryCodes = map[string]bool{"empty": true, "not-a-number": true, "ambiguous-separator": true, "too-long": true, patient.Missing: true}
