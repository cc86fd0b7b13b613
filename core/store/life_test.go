package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/fstest"

	"chinlift/core/must"
	"chinlift/core/timeline"
)

func TestInUse(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	if _, err := Open(t.Context(), options(dir)); !errors.Is(err, ErrInUse) {
		t.Fatalf("error %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	open(t, options(dir))
}

func TestOpenNeedsItsOptions(t *testing.T) {
	for _, o := range []Options{{}, {Dir: t.TempDir(), Installation: "x"}, {Dir: t.TempDir(), Entered: ticking()}} {
		if s, err := Open(t.Context(), o); err == nil {
			t.Errorf("%+v was opened: %v", o, s.Close())
		}
	}
}

func TestSuspendAndResume(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	caseID := newID()
	appendAll(t, s, opened(caseID))
	h := must.Get[timeline.Hash](t)(s.PutBlob(t.Context(), []byte("x")))
	ctx := t.Context()
	for range 2 { // twice is as once
		if err := s.Suspend(ctx); err != nil {
			t.Fatal(err)
		}
	}
	// Nothing is open: no log, and somebody else may serve the folder.
	for _, name := range []string{FileName + "-wal", FileName + "-shm"} {
		if _, err := os.Stat(filepath.Join(dir, name)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: %v", name, err)
		}
	}
	other := must.Get[*Store](t)(Open(ctx, options(dir)))
	if err := s.Resume(ctx); !errors.Is(err, ErrInUse) {
		t.Errorf("resume beside another: %v", err)
	}
	if err := other.Close(); err != nil {
		t.Fatal(err)
	}
	calls := map[string]func() error{
		"append":     func() error { _, err := s.Append(ctx, opened(caseID)); return err },
		"merge":      func() error { _, err := s.Merge(ctx, []*timeline.Line{newChain(t).add(opened(caseID))}); return err },
		"case":       func() error { _, err := s.Case(ctx, caseID); return err },
		"scope":      func() error { _, err := s.Scope(ctx, timeline.ScopeCase); return err },
		"all":        func() error { return s.All(ctx, func(*timeline.Line) error { return nil }) },
		"unsettled":  func() error { _, err := s.Unsettled(ctx); return err },
		"settle":     func() error { return s.Settle(ctx, caseID) },
		"recent":     func() error { _, err := s.Recent(ctx, 1, 0); return err },
		"count":      func() error { _, _, err := s.Count(ctx); return err },
		"local":      func() error { _, err := s.Local(ctx, "x"); return err },
		"set local":  func() error { return s.SetLocal(ctx, "x", "y") },
		"put blob":   func() error { _, err := s.PutBlob(ctx, nil); return err },
		"blob":       func() error { _, err := s.Blob(h); return err },
		"verify":     func() error { _, err := s.Verify(ctx); return err },
		"checkpoint": func() error { return s.Checkpoint(ctx) },
	}
	for name, call := range calls {
		if err := call(); !errors.Is(err, ErrSuspended) {
			t.Errorf("%s while suspended: %v", name, err)
		}
	}
	if s.Head() != 2 {
		t.Errorf("head %d", s.Head())
	}
	for range 2 {
		if err := s.Resume(ctx); err != nil {
			t.Fatal(err)
		}
	}
	for name, call := range calls {
		if err := call(); err != nil {
			t.Errorf("%s after resuming: %v", name, err)
		}
	}
	clean(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for name, call := range calls {
		if err := call(); !errors.Is(err, ErrClosed) {
			t.Errorf("%s after closing: %v", name, err)
		}
	}
	if err := s.Resume(ctx); !errors.Is(err, ErrClosed) {
		t.Errorf("resume after closing: %v", err)
	}
	if err := s.Suspend(ctx); err != nil {
		t.Errorf("suspend after closing: %v", err)
	}
}

// A phone gives an app a moment to put itself to sleep: whoever reads is
// stopped, whoever writes has either committed or is told that it has not.
func TestSuspendWhileBusy(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	c, caseID := newChain(t), newID()
	var ls []*timeline.Line
	for range 3 * allPage {
		ls = append(ls, c.add(opened(caseID)))
	}
	merge(t, s, ls)

	reading, writing := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	var readErr error
	wg.Go(func() {
		n := 0
		readErr = s.All(context.Background(), func(*timeline.Line) error {
			if n++; n == 1 {
				close(reading)
				<-writing
			}
			return nil
		})
	})
	acknowledged := map[string]bool{}
	var writeErr error
	wg.Go(func() {
		for n := 0; ; n++ {
			got, err := s.Append(context.Background(), opened(caseID))
			if err != nil {
				writeErr = err
				return
			}
			acknowledged[got[0].Event.ID] = true
			if n == 5 {
				close(writing)
			}
		}
	})
	<-reading
	<-writing
	if err := s.Suspend(t.Context()); err != nil {
		t.Fatal(err)
	}
	wg.Wait()
	if !errors.Is(writeErr, ErrSuspended) {
		t.Errorf("the writer ended with %v", writeErr)
	}
	if readErr != nil && !errors.Is(readErr, ErrSuspended) {
		t.Errorf("the reader ended with %v", readErr)
	}
	if err := s.Resume(t.Context()); err != nil {
		t.Fatal(err)
	}
	for _, l := range all(t, s) {
		delete(acknowledged, l.Event.ID)
	}
	if len(acknowledged) > 0 {
		t.Errorf("%d acknowledged events are lost", len(acknowledged))
	}
	clean(t, s)
}

func TestReadOnlyBesideTheWriter(t *testing.T) {
	dir := t.TempDir()
	if _, err := OpenReadOnly(t.Context(), dir, nil); !codeIs(err, CodeMissing) {
		t.Fatalf("nothing there: %v", err)
	}
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	ro := must.Get[*Store](t)(OpenReadOnly(t.Context(), dir, nil))
	caseID := newID()
	appendAll(t, s, opened(caseID), note(caseID, "x"))
	if dump(t, ro) != dump(t, s) || ro.Head() != 3 {
		t.Errorf("the reader sees %d lines", ro.Head())
	}
	clean(t, ro)
	ctx := t.Context()
	for name, err := range map[string]error{
		"append":     second(ro.Append(ctx, opened(caseID))),
		"merge":      second(ro.Merge(ctx, all(t, s))),
		"settle":     ro.Settle(ctx, caseID),
		"set local":  ro.SetLocal(ctx, "x", "y"),
		"put blob":   second(ro.PutBlob(ctx, nil)),
		"checkpoint": ro.Checkpoint(ctx),
	} {
		if !errors.Is(err, ErrReadOnly) {
			t.Errorf("%s: %v", name, err)
		}
	}
	appendAll(t, s, note(caseID, "y"))
	if ro.Head() != 4 {
		t.Errorf("the reader sees %d lines", ro.Head())
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if n := len(all(t, ro)); n != 4 {
		t.Errorf("after the writer closed the reader sees %d lines", n)
	}
	if err := ro.Close(); err != nil {
		t.Fatal(err)
	}
	// By itself, on a folder that nobody serves.
	ro = must.Get[*Store](t)(OpenReadOnly(t.Context(), dir, nil))
	clean(t, ro)
	if err := ro.Close(); err != nil {
		t.Fatal(err)
	}
	clean(t, open(t, options(dir)))
}

func second[T any](_ T, err error) error { return err }

func TestAllMayCallTheStore(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	appendAll(t, s, opened(caseID))
	n := 0
	err := s.All(t.Context(), func(*timeline.Line) error {
		n++
		appendAll(t, s, opened(caseID)) // comes too late for this walk
		_, err := s.Case(t.Context(), caseID)
		return err
	})
	if err != nil || n != 2 {
		t.Fatalf("%d lines, %v", n, err)
	}
	stop := errors.New("enough")
	if err := s.All(t.Context(), func(*timeline.Line) error { return stop }); !errors.Is(err, stop) {
		t.Fatal(err)
	}
}

func TestManyWritersAndReaders(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	appendAll(t, s, opened(caseID))
	var wg sync.WaitGroup
	errs := make(chan error, 8)
	for range 4 {
		wg.Go(func() {
			for range 20 {
				if _, err := s.Append(context.Background(), note(caseID, "x")); err != nil {
					errs <- err
					return
				}
			}
		})
		wg.Go(func() {
			for range 10 {
				ls, err := s.Case(context.Background(), caseID)
				if err == nil && len(VerifyLines(ls).Findings) > 0 {
					err = errors.New("a reader saw half a write")
				}
				if err == nil {
					err = s.Checkpoint(context.Background())
				}
				if err != nil {
					errs <- err
					return
				}
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		t.Error(err)
	}
	if r := clean(t, s); r.Lines != 82 {
		t.Errorf("%d lines", r.Lines)
	}
}

// The log is emptied into the database beside the taps, so that it stays
// small.
func TestCheckpointsByItself(t *testing.T) {
	dir := t.TempDir()
	s := open(t, options(dir))
	caseID := newID()
	text := strings.Repeat("x", 3000)
	for range 600 {
		appendAll(t, s, note(caseID, text))
	}
	info, err := os.Stat(filepath.Join(dir, FileName+"-wal"))
	if err != nil {
		t.Fatal(err)
	}
	// Some 9,000 pages were written.
	if pages := info.Size() / 4096; pages > 2*restartAfter-1 {
		t.Errorf("the log has grown to %d pages", pages)
	}
	clean(t, s)
}

// handOver is a lock that does something before it is taken.
type handOver struct {
	sync.Locker
	before func()
}

func (h handOver) Lock() {
	h.before()
	h.Locker.Lock()
}

// A destruction holds the writer and asks for a checkpoint; a checkpoint may
// ask for the writer. Neither may hold what the other waits for.
func TestCheckpointAndDestructionDoNotWaitForEachOther(t *testing.T) {
	s := fresh(t)
	caseID := newID()
	secret := appendAll(t, s, note(caseID, "words"))[0]
	k := s.db.keeper
	k.long = 0 // every log is too long
	asked := false
	k.writer = handOver{k.writer, func() {
		asked = true
		if !k.mu.TryLock() {
			t.Error("a checkpoint waits for the writer and lets no other begin: a destruction would wait for it for ever")
			return
		}
		k.mu.Unlock()
		appendAll(t, s, destroy(timeline.ScopeCase, caseID, secret.Event.ID))
	}}
	if err := s.Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	if !asked {
		t.Error("the checkpoint did not ask for the writer: the test shows nothing")
	}
	clean(t, s)
}

func TestMigrations(t *testing.T) {
	dir := t.TempDir()
	s := must.Get[*Store](t)(Open(t.Context(), options(dir)))
	caseID := newID()
	appendAll(t, s, opened(caseID))
	ctx := context.Background()
	text := func(sql string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(sql)} }
	ours := must.Get[[]string](t)(migrations(migrationFiles))
	later := fstest.MapFS{
		"migrations/0002-z.sql": text("CREATE TABLE a (x TEXT) STRICT; INSERT INTO a SELECT about FROM line;"),
		"migrations/9999-b.sql": text("CREATE TABLE b (x TEXT) STRICT; INSERT INTO nowhere VALUES (1);"),
	}
	for _, name := range ours {
		later[name] = &fstest.MapFile{Data: must.Get[[]byte](t)(fs.ReadFile(migrationFiles, name))}
	}
	conn := s.db.w.conn
	if err := migrate(ctx, conn, later); err == nil || !strings.Contains(err.Error(), "9999-b.sql") {
		t.Fatalf("a migration that fails: %v", err)
	}
	had := must.Get[[]string](t)(migrated(ctx, conn))
	want := append(slices.Clone(ours), "migrations/0002-z.sql")
	slices.Sort(want)
	if !slices.Equal(had, want) {
		t.Fatalf("had %s", had)
	}
	var n int
	if err := conn.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE name = 'b'").Scan(&n); err != nil || n != 0 {
		t.Fatalf("half a migration stayed: %d, %v", n, err)
	}
	later["migrations/9999-b.sql"] = text("CREATE TABLE b (x TEXT) STRICT;")
	for range 2 { // the second time there is nothing to do
		if err := migrate(ctx, conn, later); err != nil {
			t.Fatal(err)
		}
	}
	if err := conn.QueryRowContext(ctx, "SELECT count(*) FROM a").Scan(&n); err != nil || n != 2 {
		t.Fatalf("%d rows, %v", n, err)
	}
	clean(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	// This program does not know the later ones, and leaves the folder alone.
	if _, err := Open(ctx, options(dir)); !codeIs(err, CodeNewer) {
		t.Errorf("open: %v", err)
	}
	if _, err := OpenReadOnly(ctx, dir, nil); !codeIs(err, CodeNewer) {
		t.Errorf("open for reading: %v", err)
	}
	raw(t, dir, "DELETE FROM migration")
	if _, err := OpenReadOnly(ctx, dir, nil); !codeIs(err, CodeOlder) {
		t.Errorf("open for reading: %v", err)
	}
}

// TestSettingsAreReadBack: assertSettings would tell if one did not hold.
func TestSettingsAreReadBack(t *testing.T) {
	ctx := t.Context()
	o := options(t.TempDir())
	o.FullSync = true
	s := open(t, o)
	if err := assertSettings(ctx, s.db.keeper.db, o, roleReader); err == nil {
		t.Error("the writer passes for a reader")
	}
	if _, err := s.db.keeper.db.ExecContext(ctx, "PRAGMA synchronous = NORMAL"); err != nil {
		t.Fatal(err)
	}
	if err := assertSettings(ctx, s.db.keeper.db, o, roleWriter); err == nil || !strings.Contains(err.Error(), "synchronous") {
		t.Errorf("error %v", err)
	}
	for _, c := range []struct {
		version string
		older   bool
	}{{"3.51.2", true}, {"3.51.3", false}, {"3.54.1", false}, {"4.0.0", false}, {"3.9.20", true}, {"3.51", true}} {
		if older(c.version, oldestSQLite) != c.older {
			t.Error(c.version)
		}
	}
}

// TestQueriesUseIndexes asks SQLite how it would run what the screens need: a
// walk over all lines would grow with the years.
func TestQueriesUseIndexes(t *testing.T) {
	s := fresh(t)
	appendAll(t, s, opened(newID()))
	for _, c := range []struct {
		query   string
		args    []any
		ordered bool // the index gives the order
	}{
		{queryAbout, []any{"x"}, false},
		{queryScope, []any{"clinic"}, false},
		{queryPage, []any{1, "x", 1, 1, 9, 5}, true},
		{queryChain, []any{"x", 1, 1, 9, 5}, true},
		{queryUnsettled, nil, true},
		{queryTouches, []any{"x", 1, "x"}, false},
		{queryMet, []any{[]byte("x"), "x", 1, "x"}, false},
		{queryWhole, []any{[]byte("x"), "x"}, false},
		{queryUnchained, []any{"x", 1, []byte("x")}, false},
		{queryFresh, []any{1, 9}, true},
		{queryLater, []any{1, 9, 9, 5}, true},
		{queryLaterEnd, []any{1, 9, 9, 5}, true},
		{queryOpen, []any{"x"}, true},
		{queryKept, nil, false},
		{queryUnkept, []any{"x"}, false},
		{queryPlain, []any{1, 9, 5}, true},
		{queryRecent, []any{9, 5}, true},
		{queryNear, []any{`["x"]`, 9}, false},
	} {
		rows, err := s.db.readers.Query("EXPLAIN QUERY PLAN "+c.query, c.args...)
		if err != nil {
			t.Fatal(err)
		}
		var plan bytes.Buffer
		for rows.Next() {
			var id, parent, unused int
			var detail string
			if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintln(&plan, detail)
			for _, table := range []string{"line", "private", "l", "cases", "seal"} {
				if detail == "SCAN "+table || strings.HasPrefix(detail, "SCAN "+table+" ") && !strings.Contains(detail, "cases_unsettled") && !strings.Contains(detail, "seal_kept") {
					t.Errorf("walks a whole table: %s\n%s", detail, c.query)
				}
			}
			if c.ordered && strings.Contains(detail, "TEMP B-TREE FOR ORDER BY") {
				t.Errorf("sorts: %s", c.query)
			}
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
		if plan.Len() == 0 {
			t.Fatal("no plan")
		}
	}
}

func TestFaultCodes(t *testing.T) {
	field := &timeline.FieldError{Kind: "note", Field: "text", Code: "missing"}
	for _, c := range []struct {
		err  error
		code string
	}{
		{&fs.PathError{Op: "write", Path: "x", Err: syscall.ENOSPC}, CodeDiskFull},
		{fmt.Errorf("x: %w", syscall.EDQUOT), CodeDiskFull},
		{syscall.EIO, CodeIO},
		{&Error{CodeBusy, "x", nil}, CodeBusy},
		{field, ""},
		{context.Canceled, ""},
		{ErrInUse, ""},
	} {
		err := fault("test", c.err)
		var e *Error
		if errors.As(err, &e) != (c.code != "") || e != nil && e.Code != c.code {
			t.Errorf("%v becomes %v", c.err, err)
		}
		if !errors.Is(err, c.err) {
			t.Errorf("%v is lost in %v", c.err, err)
		}
	}
	if fault("test", nil) != nil {
		t.Error("no error became one")
	}
}

func TestDamagedDatabaseIsTold(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, FileName), bytes.Repeat([]byte("not a database. "), 1000), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), options(dir)); !codeIs(err, CodeDamaged) {
		t.Errorf("open: %v", err)
	}
	if _, err := OpenReadOnly(t.Context(), dir, nil); !codeIs(err, CodeDamaged) {
		t.Errorf("open for reading: %v", err)
	}
}
