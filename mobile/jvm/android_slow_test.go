//go:build slow

package jvm

import (
	"archive/zip"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

const (
	android = root + "/android"
	fetched = root + "/.build/maven" // by make deps
)

// TestAndroidShell compiles the Kotlin of the Android shell and runs its tests:
// the Activity in Android's own framework, on this machine, before the real
// core. Manifest and resources are linked as for an app. What is not here make
// deps brings; the run itself asks nobody.
func TestAndroidShell(t *testing.T) {
	maven, aapt := tool(t, "mvn", "Maven"), tool(t, "aapt2", "the tool that links an Android app")
	pom := read(t, android, "pom.xml")
	if old, err := os.ReadFile(filepath.Join(fetched, "pom.xml")); err != nil || string(old) != pom {
		t.Fatalf("what Maven needs is not here, or of another version (%v): make deps fetches it", err)
	}
	abs := func(path string) string {
		t.Helper()
		path, err := filepath.Abs(path)
		if err != nil {
			t.Fatal(err)
		}
		return path
	}
	repository, frameworks := abs(filepath.Join(fetched, "repository")), abs(filepath.Join(fetched, "frameworks"))
	version := only(t, pom, `<framework.version>([^<]+)<`)
	framework := filepath.Join(repository, "org", "robolectric", "android-all", version, "android-all-"+version+".jar")

	b := build(t)
	work := t.TempDir()
	apk := filepath.Join(work, "app.apk")
	manifest := link(t, aapt, framework, work, b.sources, apk)
	for _, want := range []string{
		`android:allowBackup(0x01010280)=false`, `android:dataExtractionRules(0x0101063e)=@`, `android:fullBackupContent(0x010104eb)=@`,
		`android:minSdkVersion(0x0101020c)=26`, `android:exported(0x01010010)=false`,
	} {
		if !strings.Contains(manifest, want) {
			t.Errorf("the linked manifest lacks %s:\n%s", want, manifest)
		}
	}

	classpath := filepath.Join(work, "classpath")
	config := filepath.Join(classpath, "com", "android", "tools")
	if err := os.MkdirAll(config, 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(config, "test_config.properties"), fmt.Sprintf("android_resource_apk=%s\nandroid_merged_manifest=%s\nandroid_custom_package=chinlift.phone\n",
		apk, filepath.Join(work, "AndroidManifest.xml")))
	monitor := filepath.Join(work, "monitor.jar")
	unpack(t, filepath.Join(frameworks, "monitor-"+only(t, pom, `<monitor.version>([^<]+)<`)+".aar"), "classes.jar", monitor)

	said := run(t, android, []string{"JAVA_HOME=" + filepath.Dir(filepath.Dir(b.kit.java))}, maven, "-B", "-o", "-f", "pom.xml", "test",
		"-Dmaven.repo.local="+repository, "-Dchinlift.frameworks="+frameworks, "-Dchinlift.java="+b.sources, "-Dchinlift.library="+b.library,
		"-Dchinlift.classpath="+classpath, "-Dchinlift.monitor="+monitor, "-Dchinlift.recordings="+abs(root+"/testdata/port"),
		"-Dchinlift.out="+filepath.Join(work, "out"))
	results := regexp.MustCompile(`(?m)Tests run: (\d+), Failures: 0, Errors: 0, Skipped: 0$`).FindAllStringSubmatch(said, -1)
	if len(results) != 1 {
		t.Fatalf("Maven ended well and says of its tests %q:\n%s", results, said)
	}
	n, err := strconv.Atoi(results[0][1])
	if marked := tests(t); err != nil || n < marked {
		t.Errorf("%d tests were run (%v), and the sources have %d", n, err, marked)
	}
	t.Logf("%s tests of the Android shell", results[0][1])
}

// link links manifest and resources against a framework, puts R.java beside the
// sources, and answers what the linked manifest says.
func link(t *testing.T, aapt, framework, work, sources, apk string) (manifest string) {
	t.Helper()
	gradle := read(t, android, "app", "build.gradle.kts")
	id := only(t, gradle, `applicationId = "([^"]+)"`)
	// As Gradle's plugin does: in the source neither stands.
	text := strings.Replace(read(t, android, "app", "src", "main", "AndroidManifest.xml"), "<manifest ", fmt.Sprintf("<manifest package=%q ", only(t, gradle, `namespace = "([^"]+)"`)), 1)
	source := filepath.Join(work, "AndroidManifest.xml")
	write(t, source, strings.ReplaceAll(text, "${applicationId}", id))
	compiled := filepath.Join(work, "resources.zip")
	run(t, android, nil, aapt, "compile", "--dir", "app/src/main/res", "-o", compiled)
	run(t, android, nil, aapt, "link", "-o", apk, "-I", framework, "--manifest", source, "--java", sources, "--auto-add-overlay",
		"--min-sdk-version", only(t, gradle, `minSdk = (\d+)`), "--target-sdk-version", only(t, gradle, `targetSdk = (\d+)`), compiled)
	return run(t, android, nil, aapt, "dump", "xmltree", "--file", "AndroidManifest.xml", apk)
}

// tests counts the tests in the sources of the shell.
func tests(t *testing.T) (n int) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(android, "app", "src", "test", "kotlin", "chinlift", "phone", "*Test.kt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("the shell has no tests: %v", err)
	}
	for _, f := range files {
		n += strings.Count(read(t, f), "\n    @Test\n")
	}
	return n - 1 // the process that DeathTest kills is none
}

// unpack takes one file out of an archive.
func unpack(t *testing.T, archive, name, to string) {
	t.Helper()
	z, err := zip.OpenReader(archive)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	body, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, body, 0o600); err != nil {
		t.Fatal(err)
	}
}
