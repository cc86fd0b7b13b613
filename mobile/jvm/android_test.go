package jvm

import (
	"encoding/json"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const root = "../.." // of the module, from this folder

// read reads a file.
func read(t *testing.T, path ...string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(path...))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// only gives what an expression captures where it stands in a text: once.
func only(t *testing.T, text, expression string) string {
	t.Helper()
	found := regexp.MustCompile(expression).FindAllStringSubmatch(text, -1)
	if len(found) != 1 {
		t.Fatalf("%s stands %d times", expression, len(found))
	}
	return found[0][1]
}

// TestAndroidGroundIsThatOfTheScreens holds the colours that the shells' windows
// begin with against those of the pages: where they differ, it flashes.
func TestAndroidGroundIsThatOfTheScreens(t *testing.T) {
	style := regexp.MustCompile(`--ground: (#[0-9a-f]{6})`).FindAllStringSubmatch(read(t, root, "mobile", "ui", "static", "chinlift.css"), -1)
	if len(style) < 2 {
		t.Fatalf("the style names %d grounds", len(style))
	}
	for i, folder := range []string{"values", "values-night"} {
		if got := only(t, read(t, root, "android", "app", "src", "main", "res", folder, "colors.xml"), `name="ground">([^<]+)<`); got != style[i][1] {
			t.Errorf("%s begins with %s, and the page with %s", folder, got, style[i][1])
		}
		// The version for Android 8.1 and later says one thing more.
		of, later := read(t, root, "android", "app", "src", "main", "res", folder, "styles.xml"), read(t, root, "android", "app", "src", "main", "res", folder+"-v27", "styles.xml")
		if plain := regexp.MustCompile(`(?m)^ *<item name="android:windowLightNavigationBar">(true|false)</item>\n`).ReplaceAllString(later, ""); plain != of || later == of {
			t.Errorf("%s-v27 is not %s with light keys:\n%s", folder, folder, later)
		}
	}
}

// TestIOSGroundIsThatOfTheScreens does the same for iOS.
func TestIOSGroundIsThatOfTheScreens(t *testing.T) {
	style := regexp.MustCompile(`--ground: #([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})`).FindAllStringSubmatch(read(t, root, "mobile", "ui", "static", "chinlift.css"), -1)
	var set struct {
		Colors []struct {
			Appearances []struct{ Appearance, Value string }
			Color       struct {
				Components struct{ Red, Green, Blue string }
			}
		}
	}
	if err := json.Unmarshal([]byte(read(t, root, "ios", "Chinlift", "Assets.xcassets", "Ground.colorset", "Contents.json")), &set); err != nil {
		t.Fatal(err)
	}
	if len(set.Colors) != 2 || len(set.Colors[0].Appearances) != 0 || len(set.Colors[1].Appearances) != 1 || set.Colors[1].Appearances[0].Value != "dark" {
		t.Fatalf("the grounds are %+v", set.Colors)
	}
	for i, c := range set.Colors {
		for n, got := range []string{c.Color.Components.Red, c.Color.Components.Green, c.Color.Components.Blue} {
			if want := "0x" + strings.ToUpper(style[i][n+1]); got != want {
				t.Errorf("ground %d has %s, and the page %s", i, got, want)
			}
		}
	}
	if plist := read(t, root, "ios", "Chinlift", "Info.plist"); !strings.Contains(plist, "<key>UIColorName</key>\n\t\t<string>Ground</string>") {
		t.Error("the first picture of the app has another ground")
	}
}

// TestAndroidBuildsAgree holds what Gradle would build with against what the
// tests are built with.
func TestAndroidBuildsAgree(t *testing.T) {
	pom := read(t, root, "android", "pom.xml")
	gradle := read(t, root, "android", "build.gradle.kts") + read(t, root, "android", "app", "build.gradle.kts")
	for _, both := range [][2]string{
		{`<kotlin.version>([^<]+)<`, `kotlin-gradle-plugin:([^"]+)"`},
		{`<robolectric.version>([^<]+)<`, `org.robolectric:robolectric:([^"]+)"`},
		{`<maven.compiler.release>([^<]+)<`, `targetCompatibility = JavaVersion.VERSION_(\d+)`},
	} {
		if m, g := only(t, pom, both[0]), only(t, gradle, both[1]); m != g {
			t.Errorf("Maven builds with %s, Gradle with %s (%s)", m, g, both[1])
		}
	}
	if abi := only(t, gradle, `abiFilters \+= "([^"]+)"`); abi != "arm64-v8a" {
		t.Errorf("the app is built for %s", abi)
	}
	if got := only(t, gradle, `implementation\((.+)\)\n`); got != "files(core)" {
		t.Errorf("the app contains %s", got)
	}
}

// TestAndroidStandsOnThePlatformAlone finds in the app's sources no library but
// Android's, Java's and Kotlin's own, no way past the interceptor, nothing that
// writes to the system's log, and no name of a network's place.
func TestAndroidStandsOnThePlatformAlone(t *testing.T) {
	own := regexp.MustCompile(`^(android|java|javax|kotlin|org\.json|mobile)\.`)
	imports := regexp.MustCompile(`(?m)^import (\S+)`)
	never := regexp.MustCompile(`androidx|android\.util\.Log|\bLog\.|println|addJavascriptInterface|https?://|HttpURLConnection|java\.net|loadData`)
	files := 0
	err := filepath.WalkDir(filepath.Join(root, "android", "app", "src", "main", "kotlin"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		text := read(t, path)
		for _, m := range imports.FindAllStringSubmatch(text, -1) {
			if !own.MatchString(m[1]) {
				t.Errorf("%s imports %s", path, m[1])
			}
		}
		for i, line := range slices.Collect(strings.Lines(text)) {
			if found := never.FindString(line); found != "" {
				t.Errorf("%s:%d: %s", path, i+1, found)
			}
		}
		return nil
	})
	if err != nil || files == 0 {
		t.Fatalf("%d sources: %v", files, err)
	}
}
