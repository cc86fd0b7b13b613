package sealing

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"strings"

	"filippo.io/age"
)

// Recovery is the key that is printed when sealing is set up: 128 random bits.
// It needs no stretching and no device: whoever has it, and a copy of the
// data, can read everything.
type Recovery struct{ text string }

// recoveryWork is the logarithm of scrypt's cost. It is low, since 128 bits
// cannot be tried out.
const recoveryWork = 10

// recoveryLetters has 32 digits and letters, without I, L, O and U, which are
// taken for others (Crockford, "Base 32", 2019, from memory).
const recoveryLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

var recoveryCode = base32.NewEncoding(recoveryLetters).WithPadding(base32.NoPadding)

const (
	recoveryBytes  = 16
	recoveryDigits = 26 // that 16 bytes make
	recoveryCheck  = 2  // digits by which a slip of the pen shows: one in 1024 does not
	recoveryGroup  = 4
)

// ErrRecovery says that a text is no recovery key: too short, too long, or a
// slip of the pen is in it.
var ErrRecovery = errors.New("this is not a recovery key")

// NewRecovery makes a recovery key from the system's randomness.
func NewRecovery() (Recovery, error) {
	var raw [recoveryBytes]byte
	if _, err := rand.Read(raw[:]); err != nil {
		return Recovery{}, err
	}
	digits := recoveryCode.EncodeToString(raw[:])
	return Recovery{digits + checkOf(digits)}, nil
}

func checkOf(digits string) string {
	sum := sha256.Sum256([]byte(digits))
	return recoveryCode.EncodeToString(sum[:])[:recoveryCheck]
}

// ParseRecovery reads a recovery key as people write it: in groups or not, in
// small letters, with O for 0 and I or L for 1. ErrRecovery when it is none.
func ParseRecovery(text string) (Recovery, error) {
	var b strings.Builder
	for _, c := range strings.ToUpper(text) {
		switch c {
		case ' ', '-', '\t', '\r', '\n', '.', '\u00a0', '–':
			continue
		case 'O':
			c = '0'
		case 'I', 'L':
			c = '1'
		}
		if !strings.ContainsRune(recoveryLetters, c) || b.Len() == recoveryDigits+recoveryCheck {
			return Recovery{}, ErrRecovery
		}
		b.WriteRune(c)
	}
	digits := b.String()
	if len(digits) != recoveryDigits+recoveryCheck || checkOf(digits[:recoveryDigits]) != digits[recoveryDigits:] {
		return Recovery{}, ErrRecovery
	}
	return Recovery{digits}, nil
}

// Groups gives the key in groups of four, as it is printed and read out.
func (r Recovery) Groups() []string {
	var all []string
	for i := 0; i < len(r.text); i += recoveryGroup {
		all = append(all, r.text[i:min(i+recoveryGroup, len(r.text))])
	}
	return all
}

// Text is the key in one line, the groups with hyphens between. It is the
// passphrase of the file that Wrap makes.
func (r Recovery) Text() string { return strings.Join(r.Groups(), "-") }

// IsZero reports that there is none.
func (r Recovery) IsZero() bool { return r.text == "" }

// Wrap seals the clinic's identity under the recovery key, as an age file that
// holds "AGE-SECRET-KEY-1…".
func (r Recovery) Wrap(i Identity) ([]byte, error) {
	s, err := age.NewScryptRecipient(r.Text())
	if err != nil {
		return nil, err
	}
	s.SetWorkFactor(recoveryWork)
	return ageSeal(s, []byte(i.x.String()))
}

// Unwrap opens what Wrap sealed. ErrSealed when it was under another key.
func (r Recovery) Unwrap(wrapped []byte) (Identity, error) {
	s, err := age.NewScryptIdentity(r.Text())
	if err != nil {
		return Identity{}, err
	}
	s.SetMaxWorkFactor(recoveryWork) // what came from elsewhere may ask for no more
	data, err := ageOpen(s, wrapped)
	if err != nil {
		return Identity{}, errors.Join(ErrSealed, err)
	}
	x, err := age.ParseX25519Identity(string(data))
	if err != nil {
		return Identity{}, errors.Join(ErrSealed, err)
	}
	return Identity{x}, nil
}

// EndsWith reports that a text, as people write it, is the last group of the
// key: they have it before them.
func (r Recovery) EndsWith(group string) bool {
	var b strings.Builder
	for _, c := range strings.ToUpper(group) {
		switch c {
		case ' ', '-':
			continue
		case 'O':
			c = '0'
		case 'I', 'L':
			c = '1'
		}
		b.WriteRune(c)
	}
	return !r.IsZero() && b.String() == r.text[len(r.text)-recoveryGroup:]
}
