package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"

	"github.com/google/renameio/v2"

	"chinlift/core/sealing"
	"chinlift/core/timeline"
)

// Safe wraps a secret so that it opens only on this device, whatever is copied
// of the data folder: a phone's key store; on a desk a file that lies
// elsewhere. It must work without anybody unlocking anything.
type Safe interface {
	Wrap(secret []byte) ([]byte, error)
	Unwrap(wrapped []byte) ([]byte, error)
}

// Why something that is sealed cannot be done now.
var (
	ErrSealed    = errors.New("it is sealed, and its key is not at hand")
	ErrNoVault   = errors.New("sealing has not been set up")
	ErrNoSafe    = errors.New("this device has no place for a secret")
	errNotOpened = &Error{CodeDamaged, "unseal", errors.New("a private part does not open with its own key")}
)

// seals is what is known of keys while a database is open. Reads and the
// writer use it at the same time.
type seals struct {
	mu     sync.Mutex
	vault  *sealing.Vault         // nil: sealing is not set up
	device *sealing.Key           // nil: this device's secret is not at hand
	ids    []sealing.Identity     // while it is unlocked
	opened map[int64]sealing.Key  // keys at hand, by their number
	now    map[string]sealedUnder // keys with which what comes is sealed, by what it is about
}

type sealedUnder struct {
	n    int64
	key  sealing.Key
	kept bool // for this device
}

// zeroKept stands where a key is not kept for this device: as long as one that
// is, so that the one can take the place of the other.
var zeroKept = func() []byte {
	b, err := sealing.Key{}.Seal(make([]byte, sealing.KeySize), nil)
	if err != nil {
		panic("store: the system has no random numbers: " + err.Error())
	}
	return make([]byte, len(b))
}()

// begin takes the vault of a database that is being opened, and forgets
// whatever was known.
func (k *seals) begin(ctx context.Context, q querier, safe Safe) error {
	var raw []byte
	err := q.QueryRowContext(ctx, "SELECT value FROM vault").Scan(&raw)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	var v *sealing.Vault
	if err == nil {
		if v, err = sealing.ParseVault(raw); err != nil {
			return &Error{CodeDamaged, "vault", err}
		}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	k.ids, k.device, k.vault = nil, nil, v
	k.opened, k.now = map[int64]sealing.Key{}, map[string]sealedUnder{}
	if v == nil || safe == nil {
		return nil
	}
	// A secret that does not open is one of another device, or of a key store
	// that has forgotten it. What was kept with it then opens with the clinic's
	// key alone; recording goes on.
	if secret, err := safe.Unwrap(v.Secret); err == nil && len(secret) == sealing.KeySize {
		d := sealing.Key(secret)
		k.device = &d
	}
	return nil
}

func bound(n int64) []byte { return binary.BigEndian.AppendUint64(nil, uint64(n)) } //nolint:gosec // rows are numbered from 1

// key gives a key by its number, if it is at hand.
func (k *seals) key(n int64, wrapped, kept []byte) (sealing.Key, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if key, ok := k.opened[n]; ok {
		return key, true
	}
	if k.device != nil && sealing.IsBox(kept) {
		if raw, err := k.device.Open(kept, bound(n)); err == nil && len(raw) == sealing.KeySize {
			k.opened[n] = sealing.Key(raw)
			return sealing.Key(raw), true
		}
	}
	for _, id := range k.ids {
		if key, err := id.Unwrap(wrapped); err == nil {
			k.opened[n] = key
			return key, true
		}
	}
	return sealing.Key{}, false
}

// open opens the private part of a row. Sealed: its key is not at hand.
func (k *seals) open(r *stored) (p []byte, sealed bool, err error) {
	if !sealing.IsBox(r.p) {
		return r.p, false, nil
	}
	key, ok := k.key(r.seal.Int64, r.wrapped, r.kept)
	if !ok {
		return nil, true, nil
	}
	if p, err = key.Open(r.p, boundTo(r.h)); err != nil {
		return nil, true, errNotOpened
	}
	return p, false, nil
}

// boundTo binds a private part to its line.
func boundTo(h []byte) []byte { return append([]byte("private part of "), h...) }

// sealUnder gives the key with which something about a thing is to be sealed,
// and makes one where there is none that is kept. ErrNoVault when sealing is
// not set up.
func (t *tx) sealUnder(scope timeline.Scope, about string, keep bool) (sealedUnder, error) {
	k := t.w.seals
	k.mu.Lock()
	v, device := k.vault, k.device
	u, ok := k.now[about]
	k.mu.Unlock()
	if v == nil {
		return u, ErrNoVault
	}
	if ok {
		return u, nil
	}
	if fresh, here := t.fresh[about]; here {
		return fresh, nil
	}
	var wrapped, kept []byte
	found, err := t.get("SELECT n, wrapped, kept FROM seal WHERE about = ? AND kept >= x'01' AND recipient = ? ORDER BY n DESC LIMIT 1", []any{about, v.Recipient}, &u.n, &wrapped, &kept)
	if err != nil {
		return u, err
	}
	if found {
		if u.key, u.kept = k.key(u.n, wrapped, kept); u.kept {
			t.remember(about, u)
			return u, nil
		}
	}
	if _, err := t.get("SELECT coalesce(max(n), 0) + 1 FROM seal", nil, &u.n); err != nil {
		return u, err
	}
	if u.key, err = sealing.NewKey(); err != nil {
		return u, err
	}
	u.kept = keep
	if wrapped, err = sealing.Wrap(v.Recipient, u.key); err != nil {
		return u, err
	}
	kept = zeroKept
	if keep && device != nil {
		if kept, err = device.Seal(u.key[:], bound(u.n)); err != nil {
			return u, err
		}
	}
	t.remember(about, u)
	return u, t.exec("INSERT INTO seal (n, scope, about, recipient, wrapped, kept) VALUES (?, ?, ?, ?, ?, ?)", u.n, string(scope), about, v.Recipient, wrapped, kept)
}

func (t *tx) remember(about string, u sealedUnder) {
	if t.fresh == nil {
		t.fresh = map[string]sealedUnder{}
	}
	t.fresh[about] = u
}

// stands takes the keys of a transaction that was committed. Where the device
// has no secret at hand a key is known as long as the program runs.
func (k *seals) stands(fresh map[string]sealedUnder) {
	k.mu.Lock()
	defer k.mu.Unlock()
	for about, u := range fresh {
		if u.kept {
			k.now[about] = u
			k.opened[u.n] = u.key
		}
	}
}

// Vault gives what this device keeps of the clinic's keys; nil when sealing was
// never set up. device says whether the secret of this device is at hand:
// without it no PIN opens anything.
func (s *Store) Vault() (v *sealing.Vault, device bool) {
	s.seals.mu.Lock()
	defer s.seals.mu.Unlock()
	return s.seals.vault, s.seals.device != nil
}

// Device gives the secret of this device, nil when it is not at hand.
func (s *Store) Device() *sealing.Key {
	s.seals.mu.Lock()
	defer s.seals.mu.Unlock()
	return s.seals.device
}

// SetVault keeps another vault, and appends the drafts, in one transaction.
// From the first vault on whatever comes is sealed; Reseal does the same for
// what is here. device is the secret that the vault holds wrapped; nil: as it
// was. What the vault said before is gone from the files.
func (s *Store) SetVault(ctx context.Context, v sealing.Vault, device *sealing.Key, drafts ...timeline.Draft) ([]*timeline.Line, error) {
	raw, err := v.Bytes()
	if err != nil {
		return nil, err
	}
	var lines []*timeline.Line
	var undo func()
	err = s.write(ctx, "vault", func(t *tx) error {
		k := t.w.seals
		k.mu.Lock()
		was, wasDevice, now := k.vault, k.device, k.now
		k.vault = &v
		if device != nil {
			k.device = device
		}
		if was == nil || was.Recipient != v.Recipient {
			k.now = map[string]sealedUnder{}
		}
		k.mu.Unlock()
		undo = func() {
			k.mu.Lock()
			defer k.mu.Unlock()
			k.vault, k.device, k.now = was, wasDevice, now
		}
		if was != nil {
			if err := t.exec("UPDATE vault SET value = ? WHERE n = 1", raw); err != nil {
				return err
			}
		} else {
			if err := t.exec("INSERT INTO vault (n, value) VALUES (1, ?)", raw); err != nil {
				return err
			}
			if err := t.exec("INSERT OR IGNORE INTO meta (key, value) VALUES ('unsealed', '1')"); err != nil {
				return err
			}
		}
		for i := range drafts {
			l, err := t.append(&drafts[i])
			if err != nil {
				return err
			}
			lines = append(lines, l)
		}
		t.emptied = true
		return nil
	})
	if err != nil {
		if undo != nil {
			undo()
		}
		return nil, err
	}
	return lines, nil
}

// Unlock takes the clinic's identities, until Lock or Suspend.
func (s *Store) Unlock(ids []sealing.Identity) {
	s.seals.mu.Lock()
	defer s.seals.mu.Unlock()
	s.seals.ids = ids
}

// Identities gives what Unlock took; none while it is locked.
func (s *Store) Identities() []sealing.Identity {
	s.seals.mu.Lock()
	defer s.seals.mu.Unlock()
	return s.seals.ids
}

// Lock forgets the clinic's identities, and every key that they opened.
func (s *Store) Lock() {
	s.seals.mu.Lock()
	defer s.seals.mu.Unlock()
	s.seals.ids = nil
	// Keys that are kept open again with the secret of the device. Those that
	// cannot be kept, because it is not at hand, are known as long as the
	// program runs, for what it is recording.
	clear(s.seals.opened)
	if s.seals.device == nil {
		for _, u := range s.seals.now {
			s.seals.opened[u.n] = u.key
		}
	}
}

// KeptFor is a thing whose key is kept, so that it can be read without the
// clinic's.
type KeptFor struct {
	Scope timeline.Scope
	About string
}

const (
	queryKept   = "SELECT DISTINCT scope, about FROM seal WHERE kept >= x'01'"
	queryUnkept = "SELECT n, wrapped FROM seal WHERE about = ? AND kept < x'01'"
)

// Kept lists them.
func (s *Store) Kept(ctx context.Context) (all []KeptFor, err error) {
	err = s.read(ctx, "kept", func(ctx context.Context, q querier) error {
		return each(ctx, q, queryKept, nil, func(rows *sql.Rows) error {
			var f KeptFor
			err := rows.Scan(&f.Scope, &f.About)
			all = append(all, f)
			return err
		})
	})
	return all, err
}

// Part overwrites the keys that are kept for these things: what is about them
// opens with the clinic's key alone from then on. It is not waited for readers
// that stand in the way of emptying the write-ahead log; the next checkpoint
// that empties it comes at the latest when the store is closed.
func (s *Store) Part(ctx context.Context, abouts ...string) error {
	if len(abouts) == 0 {
		return nil
	}
	return s.write(ctx, "part", func(t *tx) error {
		for _, about := range abouts {
			if err := t.exec("UPDATE seal SET kept = zeroblob(length(kept)) WHERE about = ? AND kept >= x'01'", about); err != nil {
				return err
			}
		}
		// Before the commit, so that nothing is sealed with one of them after it.
		k := t.w.seals
		k.mu.Lock()
		defer k.mu.Unlock()
		for _, about := range abouts {
			delete(k.now, about)
		}
		clear(k.opened)
		t.emptied = true
		return nil
	})
}

// Keep keeps the keys of these things again, as far as they are at hand: of a
// case that is open and came with a copy of the folder.
func (s *Store) Keep(ctx context.Context, abouts ...string) error {
	device := s.Device()
	if device == nil {
		return nil
	}
	type key struct {
		n       int64
		wrapped []byte
	}
	var locked []key
	err := s.read(ctx, "keep", func(ctx context.Context, q querier) error {
		for _, about := range abouts {
			err := each(ctx, q, queryUnkept, []any{about}, func(rows *sql.Rows) error {
				var k key
				err := rows.Scan(&k.n, &k.wrapped)
				locked = append(locked, k)
				return err
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	boxes := map[int64][]byte{}
	for _, l := range locked {
		if opened, ok := s.seals.key(l.n, l.wrapped, nil); ok {
			if boxes[l.n], err = device.Seal(opened[:], bound(l.n)); err != nil {
				return err
			}
		}
	}
	if len(boxes) == 0 {
		return nil
	}
	return s.write(ctx, "keep", func(t *tx) error {
		for n, box := range boxes {
			if err := t.exec("UPDATE seal SET kept = ? WHERE n = ?", box, n); err != nil {
				return err
			}
		}
		return nil
	})
}

// Rekeep moves what is kept from one secret of this device to another, as far
// as it is at hand; what is not is overwritten.
func (s *Store) Rekeep(ctx context.Context) error {
	device := s.Device()
	if device == nil {
		return ErrNoSafe
	}
	return s.write(ctx, "keep", func(t *tx) error {
		st, err := t.w.stmt("SELECT n, wrapped, kept FROM seal WHERE kept >= x'01'")
		if err != nil {
			return err
		}
		rows, err := st.Query()
		if err != nil {
			return err
		}
		boxes := map[int64][]byte{}
		for rows.Next() {
			var n int64
			var wrapped, kept []byte
			if err := rows.Scan(&n, &wrapped, &kept); err != nil {
				return errors.Join(err, rows.Close())
			}
			boxes[n] = zeroKept
			if key, ok := t.w.seals.key(n, wrapped, kept); ok {
				if boxes[n], err = device.Seal(key[:], bound(n)); err != nil {
					return errors.Join(err, rows.Close())
				}
			}
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			return err
		}
		for n, box := range boxes {
			if err := t.exec("UPDATE seal SET kept = ? WHERE n = ?", box, n); err != nil {
				return err
			}
		}
		t.emptied = true
		return nil
	})
}

// resealBatch bounds a transaction of Reseal.
const resealBatch = 200

const queryPlain = "SELECT private.n, line.row, line.e, private.p, line.h FROM private CROSS JOIN line ON line.row = private.row" +
	" WHERE private.n > ?1 AND private.n <= ?2 AND private.p >= x'7b' AND private.p < x'7c' ORDER BY private.n LIMIT ?3"

// Reseal seals whatever private part lies here in the clear, photographs
// included, and answers once no file holds any of it in the clear. keep says
// which of these stay readable without the clinic's key. It may end at any
// moment, and is then called again: see Unsealed. Parcels that wait to be sent
// are thrown away, to be cut anew.
func (s *Store) Reseal(ctx context.Context, keep func(*timeline.Line) bool) error {
	if v, _ := s.Vault(); v == nil {
		return ErrNoVault
	}
	destinations, err := s.destinations(ctx)
	if err != nil {
		return err
	}
	for _, d := range destinations {
		if _, err := s.Outbox().Recut(ctx, d, true); err != nil {
			return err
		}
	}
	if err := s.Outbox().Sweep(ctx); err != nil {
		return err
	}
	keys := map[string]sealedUnder{} // those that are not kept serve as long as this goes on
	var at, last int64
	for {
		more := false
		err := s.write(ctx, "reseal", func(t *tx) error {
			if last == 0 {
				if _, err := t.get("SELECT coalesce(max(n), 0) FROM private", nil, &last); err != nil {
					return err
				}
			}
			t.fresh = keys
			var err error
			at, more, err = t.reseal(at, last, keep)
			t.emptied = true
			return err
		})
		if err != nil {
			return err
		}
		if !more {
			break
		}
	}
	if err := s.sealPhotos(ctx); err != nil {
		return err
	}
	// The log is emptied, whoever reads; only then nothing lies open.
	if err := s.write(ctx, "reseal", func(t *tx) error { t.destroyed = true; return nil }); err != nil {
		return err
	}
	return s.write(ctx, "reseal", func(t *tx) error { return t.exec("DELETE FROM meta WHERE key = 'unsealed'") })
}

// reseal seals one batch.
func (t *tx) reseal(at, last int64, keep func(*timeline.Line) bool) (to int64, more bool, err error) {
	st, err := t.w.stmt(queryPlain)
	if err != nil {
		return at, false, err
	}
	rows, err := st.Query(at, last, resealBatch)
	if err != nil {
		return at, false, err
	}
	type plain struct {
		n int64
		stored
	}
	var batch []plain
	for rows.Next() {
		var p plain
		if err := rows.Scan(&p.n, &p.row, &p.e, &p.p, &p.h); err != nil {
			return at, false, errors.Join(err, rows.Close())
		}
		batch = append(batch, p)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return at, false, err
	}
	var top int64
	if _, err := t.get("SELECT coalesce(max(n), 0) FROM private", nil, &top); err != nil {
		return at, false, err
	}
	for i := range batch {
		p := &batch[i]
		l, err := p.line(t.w.seals)
		if err != nil {
			return at, false, err
		}
		u, err := t.sealUnder(l.Event.Scope, l.Event.About, keep(l))
		if err != nil {
			return at, false, err
		}
		box, err := u.key.Seal(p.p, boundTo(p.h))
		if err != nil {
			return at, false, err
		}
		if err := t.exec("UPDATE private SET p = zeroblob(length(p)) WHERE n = ?", p.n); err != nil {
			return at, false, err
		}
		if err := t.exec("INSERT INTO private (row, p, seal) VALUES (?, ?, ?)", p.row, box, u.n); err != nil {
			return at, false, err
		}
		at = p.n
	}
	// Whoever has had all private parts so far has had these too.
	if len(batch) > 0 {
		if err := t.exec("UPDATE destination SET private = (SELECT max(n) FROM private) WHERE private >= ?", top); err != nil {
			return at, false, err
		}
	}
	return at, len(batch) == resealBatch, nil
}

// Unsealed reports that sealing was set up, and that what was here before may
// not all be sealed yet.
func (s *Store) Unsealed(ctx context.Context) (due bool, err error) {
	err = s.read(ctx, "unsealed", func(ctx context.Context, q querier) error {
		return q.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM meta WHERE key = 'unsealed')").Scan(&due)
	})
	return due, err
}

// Sealed files begin with this, the number of the key, and then the box.
const fileMagic = "\x02chinlift sealed\n"

// sealFile seals the bytes of a file that goes by the SHA-256 of what is in
// it. Without a vault they stay as they are.
func (s *Store) sealFile(ctx context.Context, scope timeline.Scope, about string, h timeline.Hash, data []byte) ([]byte, error) {
	if v, _ := s.Vault(); v == nil {
		return data, nil
	}
	var u sealedUnder
	err := s.write(ctx, "file", func(t *tx) (err error) {
		u, err = t.sealUnder(scope, about, true)
		return err
	})
	if err != nil {
		return nil, err
	}
	box, err := u.key.Seal(data, []byte(h))
	if err != nil {
		return nil, err
	}
	return append(append([]byte(fileMagic), bound(u.n)...), box...), nil
}

// openFile opens what sealFile made; other files stay as they are. ErrSealed
// when the key is not at hand. The gate is held.
func (s *Store) openFile(h timeline.Hash, data []byte) ([]byte, error) {
	if !isSealedFile(data) {
		return data, nil
	}
	rest := data[len(fileMagic):]
	if len(rest) < 8 {
		return nil, &Error{CodeDamaged, "file", fmt.Errorf("blob %s ends too soon", h)}
	}
	n := int64(binary.BigEndian.Uint64(rest)) //nolint:gosec // as it was written
	var wrapped, kept []byte
	err := s.db.readers.QueryRowContext(s.db.ctx, "SELECT wrapped, kept FROM seal WHERE n = ?", n).Scan(&wrapped, &kept)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, ErrSealed
	}
	if err != nil {
		return nil, fault("file", err)
	}
	key, ok := s.seals.key(n, wrapped, kept)
	if !ok {
		return nil, ErrSealed
	}
	plain, err := key.Open(rest[8:], []byte(h))
	if err != nil {
		return nil, &Error{CodeDamaged, "file", fmt.Errorf("blob %s does not open with its key", h)}
	}
	return plain, nil
}

func isSealedFile(data []byte) bool {
	return len(data) >= len(fileMagic) && string(data[:len(fileMagic)]) == fileMagic
}

// sealPhotos seals the photographs that lie here in the clear: those from
// before sealing was set up, and those that came before their line.
func (s *Store) sealPhotos(ctx context.Context) error {
	type photo struct {
		h     timeline.Hash
		scope timeline.Scope
		about string
	}
	var all []photo
	err := s.read(ctx, "photos", func(ctx context.Context, q querier) error {
		return each(ctx, q, "SELECT photo.hash, line.scope, line.about FROM photo JOIN line ON line.row = photo.row WHERE photo.hash <> zeroblob(32)", nil, func(rows *sql.Rows) error {
			var p photo
			var raw []byte
			err := rows.Scan(&raw, &p.scope, &p.about)
			p.h = timeline.Hash(hex.EncodeToString(raw))
			all = append(all, p)
			return err
		})
	})
	if err != nil {
		return err
	}
	for _, p := range all {
		data, err := os.ReadFile(blobPath(s.o.Dir, p.h))
		if errors.Is(err, os.ErrNotExist) || err == nil && isSealedFile(data) {
			continue
		}
		if err == nil {
			err = s.writePhoto(ctx, p.scope, p.about, p.h, data)
		}
		if err != nil {
			return fault("photos", err)
		}
	}
	return nil
}

func (s *Store) writePhoto(ctx context.Context, scope timeline.Scope, about string, h timeline.Hash, data []byte) error {
	sealed, err := s.sealFile(ctx, scope, about, h, data)
	if err != nil {
		return err
	}
	s.gate.RLock()
	defer s.gate.RUnlock()
	if s.db == nil {
		return s.gone
	}
	return s.writeBlob(h, sealed)
}

// writeBlob puts a file in its place, over one that may be there.
func (s *Store) writeBlob(h timeline.Hash, data []byte) error {
	path := blobPath(s.o.Dir, h)
	partial := filepath.Join(s.o.Dir, blobFolder, partialFolder)
	for _, d := range []string{filepath.Dir(path), partial} {
		if err := makeFolder(d); err != nil {
			return err
		}
	}
	if err := renameio.WriteFile(path, data, 0o600, renameio.WithTempDir(partial), renameio.IgnoreUmask()); err != nil {
		return err
	}
	// The name must be on disk too, and renameio leaves that to others.
	return syncFolder(filepath.Dir(path))
}
