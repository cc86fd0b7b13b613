package plain

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"filippo.io/age"
	"rsc.io/qr"
)

// Sealed is the ending of a sealed file's name.
const Sealed = ".age"

// keyFile holds the key of an export that was sealed with a passphrase, and is
// itself sealed with it. So the slow work that a passphrase asks for is done
// once, however many files there are.
const keyFile = "key" + Sealed

// workFactor is the logarithm of scrypt's cost: 64 MiB of memory, so that a
// phone of 2 GiB can do it (house choice). mostWork bounds what a file that
// came from elsewhere may ask for.
const (
	workFactor = 16
	mostWork   = 20
)

// Seal says for whom an export is sealed. The zero Seal leaves it plain.
//
// The form is age (age-encryption.org/v1), which other programs open too. It
// hides and shows changes; it does not say who sealed.
type Seal struct {
	recipients []age.Recipient
	passphrase string
}

// IsZero reports that nothing is sealed.
func (s Seal) IsZero() bool { return len(s.recipients) == 0 && s.passphrase == "" }

// ErrKey says that a text is no key, or no passphrase to be used.
var ErrKey = errors.New("this is not a key")

// SealFor seals for the holders of the private keys of these public ones, each
// as "age1…".
func SealFor(recipients ...string) (Seal, error) {
	var s Seal
	for _, text := range recipients {
		r, err := age.ParseX25519Recipient(strings.TrimSpace(text))
		if err != nil {
			return Seal{}, fmt.Errorf("%w: it does not read age1…", ErrKey)
		}
		s.recipients = append(s.recipients, r)
	}
	if len(s.recipients) == 0 {
		return Seal{}, fmt.Errorf("%w: there is none", ErrKey)
	}
	return s, nil
}

// shortest is the least length of a passphrase in characters (house choice):
// whoever gets hold of a file can try as long as he likes.
const shortest = 12

// SealWith seals with a passphrase.
func SealWith(passphrase string) (Seal, error) {
	if len([]rune(passphrase)) < shortest {
		return Seal{}, fmt.Errorf("%w: a passphrase has at least %d characters", ErrKey, shortest)
	}
	return Seal{passphrase: passphrase}, nil
}

// Key is a private key that opens what was sealed for it.
type Key struct{ identity *age.X25519Identity }

// NewKey makes a key from the system's randomness.
func NewKey() (Key, error) {
	id, err := age.GenerateX25519Identity()
	return Key{id}, err
}

// Recipient is the public part, which may be handed to anybody: "age1…".
func (k Key) Recipient() string { return k.identity.Recipient().String() }

// Secret is the private part, as it stands in a key file. Whoever has it
// opens every file that was sealed for it.
func (k Key) Secret() string { return k.identity.String() }

// QR draws a key, or anything short, as a PNG to be read by a camera.
func QR(text string) ([]byte, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return nil, err
	}
	return code.PNG(), nil
}

// Unseal holds what may open sealed files. The zero Unseal opens plain ones.
type Unseal struct {
	identities []age.Identity
	passphrase string
}

// With adds the keys of a key file: lines AGE-SECRET-KEY-1…, and comments.
func (u Unseal) With(keys io.Reader) (Unseal, error) {
	ids, err := age.ParseIdentities(keys)
	if err != nil {
		return u, fmt.Errorf("%w: %w", ErrKey, err)
	}
	u.identities = append(u.identities[:len(u.identities):len(u.identities)], ids...)
	return u, nil
}

// WithPassphrase adds a passphrase.
func (u Unseal) WithPassphrase(p string) Unseal {
	u.passphrase = p
	return u
}

// ErrSealed says that a file is sealed and no key that was given opens it.
var ErrSealed = errors.New("the file is sealed, and no key at hand opens it")

var ageMagic = []byte("age-encryption.org/v1\n")

// Open reads a stream, plain or sealed; it looks which. A sealed stream that
// was changed or cut off ends in an error, never in silence.
func (u Unseal) Open(r io.Reader) (io.Reader, error) {
	b := bufio.NewReader(r)
	head, err := b.Peek(len(ageMagic))
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if !bytes.Equal(head, ageMagic) {
		return b, nil
	}
	ids := u.identities
	if u.passphrase != "" {
		id, err := age.NewScryptIdentity(u.passphrase)
		if err != nil {
			return nil, err
		}
		id.SetMaxWorkFactor(mostWork)
		ids = append(ids[:len(ids):len(ids)], id)
	}
	if len(ids) == 0 {
		return nil, ErrSealed
	}
	plain, err := age.Decrypt(b, ids...)
	var none *age.NoIdentityMatchError
	if errors.As(err, &none) {
		return nil, fmt.Errorf("%w: %w", ErrSealed, err)
	}
	return plain, err
}

// OpenFile opens a file, plain or sealed. Where it was sealed with a
// passphrase, the key beside it is opened with that first.
func (u Unseal) OpenFile(path string) (io.ReadCloser, error) {
	u, err := u.inFolder(filepath.Dir(path))
	if err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	r, err := u.Open(f)
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return opened{r, f}, nil
}

type opened struct {
	io.Reader
	io.Closer
}

// inFolder adds the key that lies in a folder, where the passphrase opens it.
// It holds for every file there, so that scrypt runs once and is then done.
func (u Unseal) inFolder(dir string) (Unseal, error) {
	if u.passphrase == "" {
		return u, nil
	}
	data, err := os.ReadFile(filepath.Join(dir, keyFile))
	if errors.Is(err, os.ErrNotExist) {
		return u, nil
	}
	if err != nil {
		return u, err
	}
	r, err := u.Open(bytes.NewReader(data))
	if err != nil {
		return u, fmt.Errorf("%s: %w", keyFile, err)
	}
	with, err := u.With(io.LimitReader(r, 1<<16))
	if err != nil {
		return u, fmt.Errorf("%s: %w", keyFile, err)
	}
	with.passphrase = ""
	return with, nil
}

// sealer is a Seal made ready for one export.
type sealer struct {
	to  []age.Recipient
	key []byte // of keyFile; nil where there is no passphrase
}

func (s Seal) ready() (sealer, error) {
	if s.passphrase == "" {
		return sealer{to: s.recipients}, nil
	}
	k, err := NewKey()
	if err != nil {
		return sealer{}, err
	}
	with, err := age.NewScryptRecipient(s.passphrase)
	if err != nil {
		return sealer{}, err
	}
	with.SetWorkFactor(workFactor)
	var b bytes.Buffer
	w, err := age.Encrypt(&b, with)
	if err != nil {
		return sealer{}, err
	}
	if _, err := io.WriteString(w, k.Secret()+"\n"); err != nil {
		return sealer{}, err
	}
	if err := w.Close(); err != nil {
		return sealer{}, err
	}
	return sealer{to: append(s.recipients[:len(s.recipients):len(s.recipients)], k.identity.Recipient()), key: b.Bytes()}, nil
}

// Seal seals a few bytes. With the zero Seal they stay as they are. A
// passphrase is not for this: its slow work would be done for each.
func (s Seal) Seal(data []byte) ([]byte, error) {
	if s.IsZero() {
		return data, nil
	}
	if s.passphrase != "" {
		return nil, fmt.Errorf("%w: segments are sealed for keys, not with a passphrase", ErrKey)
	}
	var b bytes.Buffer
	err := sealer{to: s.recipients}.seal(&b, func(w io.Writer) error { _, err := w.Write(data); return err })
	return b.Bytes(), err
}

// seal writes what write gives, sealed where there is anybody to seal for.
func (s sealer) seal(out io.Writer, write func(io.Writer) error) error {
	if len(s.to) == 0 {
		return write(out)
	}
	w, err := age.Encrypt(out, s.to...)
	if err != nil {
		return err
	}
	if err := write(w); err != nil {
		return err
	}
	return w.Close()
}
