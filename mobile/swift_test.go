package mobile

import (
	"bytes"
	"encoding/xml"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"
)

// Nothing here builds for iOS. What can be told without Apple's tools is told:
// that the Swift sources use the binding as it is, by the listing that the
// slow tests make anew from what gobind writes; and that the project names
// files that are there.

const (
	swiftFolder = "../ios/Chinlift"
	listing     = "testdata/binding.objc.txt"
)

func swiftSources(t *testing.T) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(swiftFolder, "*.swift"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no Swift sources: %v", err)
	}
	comment := regexp.MustCompile(`//[^\n"]*\n`)
	all := map[string]string{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		all[filepath.Base(f)] = comment.ReplaceAllString(string(text), "\n")
	}
	return all
}

// member is a declaration of the generated header, as Swift sees it.
type member struct {
	name   string
	labels []string // of its arguments; "_": none
	types  []string
	result string // empty: nothing
	throws bool
	method bool
}

// swiftType says what Swift makes of a type of Objective-C.
func swiftType(t *testing.T, c string) string {
	t.Helper()
	plain := strings.TrimSpace(strings.ReplaceAll(strings.ReplaceAll(c, "_Nonnull", ""), "_Nullable", ""))
	s, ok := map[string]string{
		"void": "", "long": "Int", "int64_t": "Int64", "BOOL": "Bool", "NSString*": "String", "NSData*": "Data",
		"id<MobileWatcher>": "MobileWatcherProtocol", "id<MobilePlatform>": "MobilePlatformProtocol",
		"MobileNotice*": "MobileNotice", "MobileAlarm*": "MobileAlarm", "MobilePage*": "MobilePage", "MobileApp*": "MobileApp", "nonnull instancetype": "Self",
	}[plain]
	if !ok {
		t.Fatalf("this test does not know what Swift makes of %q", c)
	}
	if strings.Contains(c, "_Nullable") {
		s += "?"
	}
	return s
}

// header reads the listing: members by class, and what is global.
func header(t *testing.T) (classes map[string][]member, globals []string) {
	t.Helper()
	text, err := os.ReadFile(listing)
	if err != nil {
		t.Fatal(err)
	}
	classes = map[string][]member{}
	property := regexp.MustCompile(`^@property \(nonatomic\) (.+?) (\w+);$`)
	method := regexp.MustCompile(`^- \((.+?)\)(.+);$`)
	argument := regexp.MustCompile(`(\w+):\(([^)]*)\)\w+`)
	global := regexp.MustCompile(`(Mobile\w+)(;|\()`)
	for line := range strings.Lines(string(text)) {
		class, line, ok := strings.Cut(strings.TrimSpace(line), ": ")
		if !ok {
			t.Fatalf("listing: %q", line)
		}
		if m := property.FindStringSubmatch(line); m != nil {
			classes[class] = append(classes[class], member{name: m[2], result: swiftType(t, m[1])})
		} else if m := method.FindStringSubmatch(line); m != nil {
			d := member{method: true, result: swiftType(t, m[1])}
			args := argument.FindAllStringSubmatch(m[2], -1)
			if len(args) == 0 {
				d.name = m[2]
			}
			for i, a := range args {
				label := a[1]
				if i == 0 {
					d.name, label = a[1], "_"
				}
				if strings.HasPrefix(a[2], "NSError*") {
					// The last argument becomes throws: then BOOL says nothing
					// more, and what may be nil is not.
					d.throws = true
					d.result = strings.TrimSuffix(strings.TrimPrefix(d.result, "Bool"), "?")
					continue
				}
				d.labels, d.types = append(d.labels, label), append(d.types, swiftType(t, a[2]))
			}
			classes[class] = append(classes[class], d)
		} else if m := global.FindStringSubmatch(strings.TrimPrefix(line, "FOUNDATION_EXPORT ")); m != nil {
			all := global.FindAllStringSubmatch(line, -1)
			globals = append(globals, all[0][1])
		} else {
			t.Fatalf("listing: %q", line)
		}
	}
	if len(classes) < 6 || len(globals) < 8 {
		t.Fatalf("the listing has %d classes and %d globals", len(classes), len(globals))
	}
	return classes, globals
}

// signature writes a member as a Swift class that implements it must.
func (m member) signature() string {
	b := "func " + m.name + "("
	for i, l := range m.labels {
		if i > 0 {
			b += ", "
		}
		b += l + " : " + m.types[i]
	}
	b += ")"
	if m.throws {
		b += " throws"
	}
	if m.result != "" {
		b += " -> " + m.result
	}
	return b
}

var localName = regexp.MustCompile(`(\w+) \w+: `)

// arguments gives the labels of the arguments of a call that begins with its
// bracket.
func arguments(text string) (labels []string) {
	depth, start := 0, 1
	label := regexp.MustCompile(`^\s*(\w+):\s`)
	for i, r := range text {
		switch r {
		case '(', '[', '{':
			depth++
		case ')', ']', '}':
			depth--
		}
		if depth == 1 && r == ',' || depth == 0 {
			if arg := text[start:i]; strings.TrimSpace(arg) != "" {
				if m := label.FindStringSubmatch(arg + " "); m != nil {
					labels = append(labels, m[1])
				} else {
					labels = append(labels, "_")
				}
			}
			start = i + 1
		}
		if depth == 0 {
			return labels
		}
	}
	return labels
}

func TestSwiftUsesTheBindingAsItIs(t *testing.T) {
	classes, globals := header(t)
	sources := swiftSources(t)
	known := slices.Clone(globals)
	for class := range classes {
		known = append(known, class)
		if class == "MobilePlatform" || class == "MobileWatcher" {
			known = append(known, class+"Protocol") // a class has the same name
		}
	}
	name := regexp.MustCompile(`\bMobile[A-Z]\w*`)
	// What the sources call a thing of the binding. Each of these names stands
	// for it alone.
	use := regexp.MustCompile(`\b(app|page|alarm|n)\??\.(\w+)(\(?)`)
	of := map[string]string{"app": "MobileApp", "page": "MobilePage", "alarm": "MobileAlarm", "n": "MobileNotice"}
	used := map[string]bool{}
	for _, file := range slices.Sorted(maps.Keys(sources)) {
		text := sources[file]
		for _, n := range name.FindAllString(text, -1) {
			if !slices.Contains(known, n) {
				t.Errorf("%s uses %s, which is not in the header", file, n)
			}
			used[n] = true
		}
		for _, m := range use.FindAllStringSubmatchIndex(text, -1) {
			class, called := of[text[m[2]:m[3]]], text[m[4]:m[5]]
			i := slices.IndexFunc(classes[class], func(d member) bool { return d.name == called })
			if class == "MobileAlarm" && file == "Alarms.swift" && i >= 0 {
				used[class+"."+called] = true
				continue // also of the app's own Alarm, which has some of the same
			}
			if i < 0 {
				t.Errorf("%s uses %s.%s, which is not in the header", file, class, called)
				continue
			}
			d := classes[class][i]
			used[class+"."+called] = true
			if call := m[7] > m[6]; call != d.method {
				t.Errorf("%s: %s.%s: called %v, and it is a method %v", file, class, called, call, d.method)
			}
			if d.method {
				if got := arguments(text[m[6]:]); !slices.Equal(got, d.labels) {
					t.Errorf("%s: %s.%s is called with %q, and takes %q", file, class, called, got, d.labels)
				}
				line := text[strings.LastIndex(text[:m[0]], "\n")+1 : m[0]]
				if d.throws != regexp.MustCompile(`\btry\??\s+(self\.)?$`).MatchString(line) {
					t.Errorf("%s: %s.%s throws %v; the line begins %q", file, class, called, d.throws, line)
				}
			}
		}
	}
	// What the companion asks for and tells is implemented, with its types.
	for class, file := range map[string]string{"MobilePlatform": "Phone.swift", "MobileWatcher": "Companion.swift"} {
		text := localName.ReplaceAllString(sources[file], "$1 : ")
		for _, d := range classes[class] {
			if s := d.signature() + " {"; !strings.Contains(text, s) {
				t.Errorf("%s does not implement %s: %s", file, class, s)
			}
		}
		if !strings.Contains(sources[file], class+"Protocol") {
			t.Errorf("%s does not say that it is a %s", file, class)
		}
	}
	// Nothing of the contract is forgotten. iOS lets no app have a volume key,
	// and grants none the time to close.
	for class, members := range classes {
		for _, d := range members {
			if class == "MobilePlatform" || class == "MobileWatcher" || d.name == "init" {
				continue
			}
			id := class + "." + d.name
			if left := slices.Contains([]string{"MobileApp.mark", "MobileApp.close", "MobileNotice.stored", "MobileNotice.markKey", "MobilePage.media", "MobilePage.charset", "MobileAlarm.at"}, id); used[id] == left {
				t.Errorf("%s: used %v, and named as left out %v", id, used[id], left)
			}
		}
	}
	for _, g := range globals {
		if !used[g] && g != "MobileOrigin" {
			t.Errorf("%s is used nowhere", g)
		}
	}
}

// What binds the shell in the words of the sources.
func TestSwiftKeepsToTheContract(t *testing.T) {
	all := ""
	for _, text := range swiftSources(t) {
		all += text
	}
	for what, must := range map[string]string{
		"a message port is lent":                `postMessage("port", "*", [port2])`,
		"only GET":                              `request.httpMethod == "GET"`,
		"the policy":                            `"Content-Security-Policy": MobilePolicy`,
		"no web store":                          `.nonPersistent()`,
		"no backup":                             `isExcludedFromBackup = true`,
		"a background task":                     `beginBackgroundTask(`,
		"a cover for the recent apps":           `window.addSubview(blank)`,
		"the web view's process dies":           `webViewWebContentProcessDidTerminate`,
		"the screen stays on":                   `isIdleTimerDisabled = screenOn`,
		"this device only":                      `kSecAttrAccessibleAfterFirstUnlockThisDeviceOnly`,
		"a clock that goes on while it sleeps":  `mach_continuous_time()`,
		"the share sheet":                       `UIActivityViewController(`,
		"haptics":                               `UIImpactFeedbackGenerator(`,
		"alarms go by the clock since boot":     `alarm.sinceBoot - now`,
		"the task in the background may expire": `expirationHandler: end`,
		"readable after the first unlocking":    `[.protectionKey: FileProtectionType.completeUntilFirstUserAuthentication]`,
		"what is handed over lies protected":    `options: .completeFileProtection`,
		"what was left there goes":              `ScreenController.forgetOutgoing()`,
		"a page that was stopped hears nothing": `guard self.running.remove(id) != nil else { return }`,
		"a stop is noted":                       `running.remove(ObjectIdentifier(task))`,
		"the picture's page is loaded anew":     `self.web?.reload()`,
		"a notice has the words of the alarm":   `content.body = alarm.words`,
	} {
		if strings.Count(all, must) != 1 {
			t.Errorf("%s: %q stands in the sources %d times", what, must, strings.Count(all, must))
		}
	}
	for _, never := range []string{"http:", "https:", "URLSession", "UserDefaults", "print(", "NSLog", "os_log", "try!", "as!", "fatalError",
		// A notice on a locked screen has the words of its alarm, and nothing else.
		"content.title", "content.subtitle"} {
		if strings.Contains(all, never) {
			t.Errorf("the sources have %q", never)
		}
	}
}

func TestXcodeProject(t *testing.T) {
	const folder = "../ios"
	text, err := os.ReadFile(filepath.Join(folder, "project.yml"))
	if err != nil {
		t.Fatal(err)
	}
	type target struct {
		Type, Platform string
		Sources        []struct{ Path string }
		Dependencies   []struct {
			Framework, SDK string
			Embed          *bool
		}
		Settings struct{ Base map[string]string }
	}
	var p struct {
		Name     string
		Options  map[string]any
		Settings struct{ Base map[string]string }
		Targets  map[string]target
		Schemes  map[string]struct {
			Build struct{ Targets map[string]string }
		}
	}
	d := yaml.NewDecoder(bytes.NewReader(text))
	d.KnownFields(true)
	if err := d.Decode(&p); err != nil {
		t.Fatal(err)
	}
	app, ok := p.Targets["Chinlift"]
	if !ok || app.Type != "application" || app.Platform != "iOS" || len(p.Targets) != 1 || p.Schemes["Chinlift"].Build.Targets["Chinlift"] != "all" {
		t.Fatalf("the project describes %+v", p)
	}
	files := []string{app.Settings.Base["INFOPLIST_FILE"], app.Settings.Base["CODE_SIGN_ENTITLEMENTS"], "Chinlift/PrivacyInfo.xcprivacy"}
	for _, s := range app.Sources {
		files = append(files, s.Path)
	}
	for _, f := range files {
		if _, err := os.Stat(filepath.Join(folder, f)); f == "" || err != nil {
			t.Errorf("%q: %v", f, err)
		}
	}
	bind, err := os.ReadFile("../.ci/bind")
	if err != nil {
		t.Fatal(err)
	}
	framework := false
	for _, d := range app.Dependencies {
		if at, ok := strings.CutPrefix(d.Framework, "../"); ok {
			framework = strings.Contains(string(bind), at) && d.Embed != nil && !*d.Embed
		}
	}
	if !framework {
		t.Error("the project and make xcframework do not name the same framework")
	}
	target15, _ := p.Options["deploymentTarget"].(map[string]any)
	if target15["iOS"] != "15.0" || !strings.Contains(string(bind), "iosversion=15.0") {
		t.Errorf("the project is for iOS %v, and make xcframework for another", target15["iOS"])
	}
	// Property lists are XML with keys and values in turn.
	for _, f := range files[:3] {
		text, err := os.ReadFile(filepath.Join(folder, f))
		if err != nil {
			t.Fatal(err)
		}
		d := xml.NewDecoder(bytes.NewReader(text))
		n := 0
		for {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", f, err)
			}
			if el, ok := tok.(xml.StartElement); ok && el.Name.Local == "key" {
				n++
			}
		}
		if n == 0 {
			t.Errorf("%s has no keys", f)
		}
	}
}

// All that a shell calls, lends or hears stands in the one file.
func TestTheContractIsOneFile(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		if file == "contract.go" || strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range f.Decls {
			switch d := decl.(type) {
			case *ast.FuncDecl:
				if d.Name.IsExported() && (d.Recv == nil || exportedReceiver(d.Recv.List[0].Type)) {
					t.Errorf("%s exports %s", file, d.Name)
				}
			case *ast.GenDecl:
				for _, s := range d.Specs {
					if ts, ok := s.(*ast.TypeSpec); ok && ts.Name.IsExported() {
						t.Errorf("%s exports %s", file, ts.Name)
					}
					if vs, ok := s.(*ast.ValueSpec); ok && slices.ContainsFunc(vs.Names, (*ast.Ident).IsExported) {
						t.Errorf("%s exports %s", file, vs.Names)
					}
				}
			}
		}
	}
}

func exportedReceiver(e ast.Expr) bool {
	if p, ok := e.(*ast.StarExpr); ok {
		e = p.X
	}
	id, ok := e.(*ast.Ident)
	return ok && id.IsExported()
}
