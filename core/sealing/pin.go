package sealing

import (
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"strings"
	"time"
	"unicode/utf8"

	"filippo.io/age"
	"golang.org/x/crypto/argon2"
)

// Work is what a try of a PIN costs: argon2id's passes, memory and lanes.
type Work struct {
	Passes    uint32 `json:"passes"`
	MemoryKiB uint32 `json:"memory_kib"`
	Lanes     uint8  `json:"lanes"`
}

// Usual is the second choice of RFC 9106, section 4 (Biryukov, Dinu,
// Khovratovich, Josefsson: Argon2, 2021), for where memory is scarce; from
// memory: 3 passes over 64 MiB in 4 lanes.
var Usual = Work{Passes: 3, MemoryKiB: 64 << 10, Lanes: 4}

// PIN lengths, in characters; house choices. A keyboard may enter letters too,
// and on a desk it should.
const (
	ShortestPIN = 6
	LongestPIN  = 64
)

// Why a PIN cannot be chosen.
var (
	ErrShortPIN = errors.New("the PIN is too short")
	ErrLongPIN  = errors.New("the PIN is too long")
	ErrEasyPIN  = errors.New("the PIN is one of those that are tried first")
)

// CheckPIN says whether a PIN may be chosen: long enough, and neither one
// character over and over nor a run such as 123456.
func CheckPIN(pin string) error {
	n := utf8.RuneCountInString(pin)
	switch {
	case n < ShortestPIN:
		return ErrShortPIN
	case n > LongestPIN:
		return ErrLongPIN
	}
	digits := []rune(pin)
	for _, step := range []rune{0, 1, -1} {
		run := true
		for i := 1; i < len(digits); i++ {
			run = run && digits[i]-digits[i-1] == step
		}
		if run {
			return ErrEasyPIN
		}
	}
	if half := pin[:len(pin)/2]; len(pin)%2 == 0 && half+half == pin && n <= 8 || strings.Count(pin, pin[:1]) >= n-1 {
		return ErrEasyPIN
	}
	return nil
}

// PINLock is the clinic's identities under a PIN and the secret of a device.
type PINLock struct {
	Work Work   `json:"work"`
	Salt []byte `json:"salt"`
	Box  []byte `json:"box"`
}

// LockWithPIN wraps identities. It takes as long as one try.
func LockWithPIN(pin string, device Key, w Work, ids []Identity) (*PINLock, error) {
	l := &PINLock{Work: w, Salt: make([]byte, 16)}
	if _, err := rand.Read(l.Salt); err != nil {
		return nil, err
	}
	var texts []string
	for _, i := range ids {
		texts = append(texts, i.x.String())
	}
	data, err := json.Marshal(texts)
	if err != nil {
		return nil, err
	}
	k, err := l.key(pin, device)
	if err != nil {
		return nil, err
	}
	l.Box, err = k.Seal(data, nil)
	return l, err
}

// Open is one try. ErrSealed when the PIN, or the device, is another.
func (l *PINLock) Open(pin string, device Key) ([]Identity, error) {
	k, err := l.key(pin, device)
	if err != nil {
		return nil, err
	}
	data, err := k.Open(l.Box, nil)
	if err != nil {
		return nil, err
	}
	var texts []string
	if err := json.Unmarshal(data, &texts); err != nil {
		return nil, errors.Join(ErrSealed, err)
	}
	var ids []Identity
	for _, t := range texts {
		x, err := age.ParseX25519Identity(t)
		if err != nil {
			return nil, errors.Join(ErrSealed, err)
		}
		ids = append(ids, Identity{x})
	}
	return ids, nil
}

func (l *PINLock) key(pin string, device Key) (k Key, err error) {
	if l.Work.Passes == 0 || l.Work.Lanes == 0 {
		return k, ErrSealed // argon2 would panic
	}
	stretched := argon2.IDKey([]byte(pin), l.Salt, l.Work.Passes, l.Work.MemoryKiB, l.Work.Lanes, KeySize)
	out, err := hkdf.Key(sha256.New, stretched, device[:], "chinlift pin 1", KeySize)
	if err != nil {
		return k, err
	}
	return Key(out), nil
}

// Tries counts wrong tries of a PIN, and says how long to wait before the
// next. Waits are told by the time since the device started and nothing else:
// a clock that is set changes nothing, and a device that was started anew
// begins the wait anew.
type Tries struct {
	Wrong       int    `json:"wrong"` // since the last right one
	SinceBootMS int64  `json:"since_boot_ms"`
	Boot        string `json:"boot"`
}

// freeTries may be wrong without a wait, since thumbs slip; then the wait
// begins at firstWait and doubles up to longestWait. House choices: a thousand
// tries take more than a month, and nobody is ever locked out for good.
const (
	freeTries   = 3
	firstWait   = 30 * time.Second
	longestWait = time.Hour
)

// Wait is how long the next try has to wait, seen at this time since boot.
func (t Tries) Wait(sinceBoot time.Duration, boot string) time.Duration {
	if t.Wrong < freeTries {
		return 0
	}
	wait := longestWait
	if doublings := t.Wrong - freeTries; doublings < 7 {
		wait = min(longestWait, firstWait<<doublings)
	}
	if boot != t.Boot {
		return max(0, wait-sinceBoot)
	}
	return min(wait, max(0, wait-(sinceBoot-time.Duration(t.SinceBootMS)*time.Millisecond)))
}

// More counts a try, before it is known whether it is right: who stops the
// program meanwhile gains nothing.
func (t Tries) More(sinceBoot time.Duration, boot string) Tries {
	return Tries{Wrong: t.Wrong + 1, SinceBootMS: sinceBoot.Milliseconds(), Boot: boot}
}
