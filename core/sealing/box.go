package sealing

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"

	"filippo.io/age"
	"golang.org/x/crypto/chacha20poly1305"
)

// ErrSealed says that something cannot be opened with what is at hand: it was
// sealed for another key, or it was altered.
var ErrSealed = errors.New("sealed for another key, or altered")

// KeySize is the length of a Key in bytes.
const KeySize = chacha20poly1305.KeySize

// Key seals and opens what is about one thing.
type Key [KeySize]byte

// NewKey makes a key from the system's randomness.
func NewKey() (k Key, err error) {
	_, err = rand.Read(k[:])
	return k, err
}

const (
	boxVersion = 1
	// boxPad is the step in which lengths are told: who sees a box does not
	// see how long a name is.
	boxPad = 64
	// BoxOverhead is by how much a box is longer than what is in it, at least.
	BoxOverhead = 1 + chacha20poly1305.NonceSizeX + chacha20poly1305.Overhead + 1
)

// Seal puts data into a box: a version (1), 24 random bytes, and the data,
// padded to a multiple of 64 bytes, under XChaCha20-Poly1305. The box opens
// only with the same bound, which says where it belongs. A box never begins
// with the byte 0, nor with that of a JSON object.
func (k Key) Seal(data, bound []byte) ([]byte, error) {
	aead, err := chacha20poly1305.NewX(k[:])
	if err != nil {
		return nil, err
	}
	size := (len(data)/boxPad + 1) * boxPad // at least one byte of padding: 0x80, then zeros
	plain := make([]byte, size)
	copy(plain, data)
	plain[len(data)] = 0x80
	box := make([]byte, 1+chacha20poly1305.NonceSizeX, 1+chacha20poly1305.NonceSizeX+size+chacha20poly1305.Overhead)
	box[0] = boxVersion
	nonce := box[1:]
	if _, err := rand.Read(nonce); err != nil {
		return nil, err
	}
	return aead.Seal(box, nonce, plain, bound), nil
}

// Open opens a box. ErrSealed when it is of another key, another place, or was
// altered.
func (k Key) Open(box, bound []byte) ([]byte, error) {
	if len(box) < BoxOverhead || box[0] != boxVersion {
		return nil, ErrSealed
	}
	aead, err := chacha20poly1305.NewX(k[:])
	if err != nil {
		return nil, err
	}
	nonce, sealed := box[1:1+chacha20poly1305.NonceSizeX], box[1+chacha20poly1305.NonceSizeX:]
	plain, err := aead.Open(nil, nonce, sealed, bound)
	if err != nil {
		return nil, ErrSealed
	}
	end := bytes.LastIndexByte(plain, 0x80)
	if end < 0 {
		return nil, ErrSealed
	}
	return plain[:end:end], nil
}

// IsBox reports that bytes are a box, and not the JSON or the zeros that may
// stand in its place.
func IsBox(b []byte) bool { return len(b) > 0 && b[0] == boxVersion }

// Identity is the private half of a clinic's key pair.
type Identity struct{ x *age.X25519Identity }

// NewIdentity makes a key pair from the system's randomness.
func NewIdentity() (Identity, error) {
	x, err := age.GenerateX25519Identity()
	return Identity{x}, err
}

// Recipient is the public half: "age1…".
func (i Identity) Recipient() string { return i.x.Recipient().String() }

// Wrap seals a key to the clinic whose public key this is, as an age file.
func Wrap(recipient string, k Key) ([]byte, error) {
	r, err := age.ParseX25519Recipient(recipient)
	if err != nil {
		return nil, fmt.Errorf("the clinic's public key cannot be read: %w", err)
	}
	return ageSeal(r, k[:])
}

// Unwrap opens a key that was sealed to the clinic. ErrSealed when it was to
// another one.
func (i Identity) Unwrap(wrapped []byte) (k Key, err error) {
	data, err := ageOpen(i.x, wrapped)
	if err != nil || len(data) != KeySize {
		return k, errors.Join(ErrSealed, err)
	}
	return Key(data), nil
}

func ageSeal(r age.Recipient, data []byte) ([]byte, error) {
	var b bytes.Buffer
	w, err := age.Encrypt(&b, r)
	if err == nil {
		_, err = w.Write(data)
	}
	if err == nil {
		err = w.Close()
	}
	return b.Bytes(), err
}

// longestWrapped bounds what an age file of ours holds.
const longestWrapped = 1 << 12

func ageOpen(i age.Identity, file []byte) ([]byte, error) {
	r, err := age.Decrypt(bytes.NewReader(file), i)
	if err != nil {
		return nil, err
	}
	return io.ReadAll(io.LimitReader(r, longestWrapped))
}
