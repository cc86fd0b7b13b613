package sealing

import (
	"bytes"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"pgregory.net/rapid"
)

// light costs next to nothing, so that a test may try many PINs.
var light = Work{Passes: 1, MemoryKiB: 8, Lanes: 1}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestBox(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k, other := must(NewKey()), must(NewKey())
		data := rapid.SliceOfN(rapid.Byte(), 0, 400).Draw(t, "data")
		bound := rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(t, "bound")
		box := must(k.Seal(data, bound))
		if !IsBox(box) || IsBox([]byte("{}")) || IsBox(make([]byte, len(box))) {
			t.Fatal("a box is not told from what may stand in its place")
		}
		if back := must(k.Open(box, bound)); !bytes.Equal(back, data) {
			t.Fatalf("%x came back as %x", data, back)
		}
		if len(data) > 3 && bytes.Contains(box, data) {
			t.Fatal("what is in it lies open")
		}
		if (len(box)-BoxOverhead+1)%boxPad != 0 {
			t.Fatalf("a box of %d bytes tells how long its %d bytes are", len(box), len(data))
		}
		if _, err := other.Open(box, bound); !errors.Is(err, ErrSealed) {
			t.Fatalf("another key opens it: %v", err)
		}
		if _, err := k.Open(box, append(slices.Clone(bound), 'x')); !errors.Is(err, ErrSealed) {
			t.Fatalf("it opens in another place: %v", err)
		}
		at := rapid.IntRange(0, len(box)-1).Draw(t, "at")
		box[at] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		if _, err := k.Open(box, bound); !errors.Is(err, ErrSealed) {
			t.Fatalf("it opens though byte %d was altered: %v", at, err)
		}
	})
}

func FuzzOpen(f *testing.F) {
	var k Key
	f.Add(must(k.Seal([]byte("{}"), nil)))
	f.Add([]byte{1})
	f.Add([]byte("{}"))
	f.Fuzz(func(t *testing.T, box []byte) {
		if data, err := k.Open(box, nil); err == nil && len(data) >= len(box) {
			t.Errorf("%d bytes came out of %d", len(data), len(box))
		}
	})
}

func TestWrap(t *testing.T) {
	id, other := must(NewIdentity()), must(NewIdentity())
	k := must(NewKey())
	w := must(Wrap(id.Recipient(), k))
	if back := must(id.Unwrap(w)); back != k {
		t.Error("another key came back")
	}
	if _, err := other.Unwrap(w); !errors.Is(err, ErrSealed) {
		t.Errorf("another clinic opens it: %v", err)
	}
	if _, err := Wrap("age1none", k); err == nil {
		t.Error("sealed for nobody")
	}
	// Any program that knows age opens it.
	r := must(age.Decrypt(bytes.NewReader(w), id.x))
	if data := must(io.ReadAll(r)); !bytes.Equal(data, k[:]) {
		t.Error("age reads something else")
	}
}

func TestRecovery(t *testing.T) {
	r, id := must(NewRecovery()), must(NewIdentity())
	text := r.Text()
	if len(r.Groups()) != 7 || len(text) != 34 {
		t.Fatalf("%q", text)
	}
	w := must(r.Wrap(id))
	small := strings.NewReplacer("-", "  ", "0", "o", "1", "l").Replace(strings.ToLower(text))
	for _, way := range []string{text, small, strings.ReplaceAll(text, "-", ""), " " + text + "\n"} {
		again, err := ParseRecovery(way)
		if err != nil {
			t.Fatalf("%q: %v", way, err)
		}
		if back := must(again.Unwrap(w)); back.Recipient() != id.Recipient() {
			t.Fatal("another identity")
		}
	}
	for _, bad := range []string{"", text[:30], text + "A", strings.Replace(text, text[:1], "U", 1), "é" + text[1:]} {
		if _, err := ParseRecovery(bad); !errors.Is(err, ErrRecovery) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if _, err := must(NewRecovery()).Unwrap(w); !errors.Is(err, ErrSealed) {
		t.Errorf("another recovery key opens it: %v", err)
	}
	// Any program that knows age opens it with the printed text.
	s := must(age.NewScryptIdentity(text))
	if data := must(io.ReadAll(must(age.Decrypt(bytes.NewReader(w), s)))); string(data) != id.x.String() {
		t.Error("age reads something else")
	}
}

// TestRecoverySlip: a wrong letter, or two that changed places, is noticed but
// for about one in 1024.
func TestRecoverySlip(t *testing.T) {
	missed, slips := 0, 0
	for range 40 {
		text := strings.Join(must(NewRecovery()).Groups(), "")
		for i := range text {
			for _, c := range recoveryLetters {
				if wrong := text[:i] + string(c) + text[i+1:]; wrong != text {
					slips++
					if _, err := ParseRecovery(wrong); err == nil {
						missed++
					}
				}
			}
		}
	}
	// Expected are 34 of 34,720; more than 90 come about once in 10^15.
	if slips != 40*28*31 || missed > 90 {
		t.Errorf("%d of %d slips were not noticed", missed, slips)
	}
}

func FuzzParseRecovery(f *testing.F) {
	f.Add(must(NewRecovery()).Text())
	f.Add("O0 I1 L1")
	f.Fuzz(func(t *testing.T, text string) {
		r, err := ParseRecovery(text)
		if err != nil {
			return
		}
		if again, err := ParseRecovery(r.Text()); err != nil || again != r {
			t.Errorf("%q reads as %v and then as %v", text, r, again)
		}
	})
}

func TestPIN(t *testing.T) {
	device, other := must(NewKey()), must(NewKey())
	a, b := must(NewIdentity()), must(NewIdentity())
	l := must(LockWithPIN("274916", device, light, []Identity{a, b}))
	ids, err := l.Open("274916", device)
	if err != nil || len(ids) != 2 || ids[0].Recipient() != a.Recipient() || ids[1].Recipient() != b.Recipient() {
		t.Fatalf("%v %v", ids, err)
	}
	if _, err := l.Open("274917", device); !errors.Is(err, ErrSealed) {
		t.Errorf("another PIN opens it: %v", err)
	}
	if _, err := l.Open("274916", other); !errors.Is(err, ErrSealed) {
		t.Errorf("it opens on another device: %v", err)
	}
	if _, err := (&PINLock{}).Open("274916", device); !errors.Is(err, ErrSealed) {
		t.Errorf("the zero lock: %v", err)
	}
}

func TestUsualWorkOpens(t *testing.T) {
	device, id := must(NewKey()), must(NewIdentity())
	l := must(LockWithPIN("274916", device, Usual, []Identity{id}))
	if ids, err := l.Open("274916", device); err != nil || len(ids) != 1 {
		t.Errorf("%v %v", ids, err)
	}
}

func TestCheckPIN(t *testing.T) {
	for _, tt := range []struct {
		pin  string
		want error
	}{
		{"", ErrShortPIN}, {"12345", ErrShortPIN}, {"111111", ErrEasyPIN}, {"123456", ErrEasyPIN}, {"987654", ErrEasyPIN}, {"456789", ErrEasyPIN},
		{"123123", ErrEasyPIN}, {"111112", ErrEasyPIN}, {"274916", nil}, {"00274916", nil}, {"a long passphrase", nil}, {"ééééé", ErrShortPIN},
		{strings.Repeat("27", 33), ErrLongPIN},
	} {
		if err := CheckPIN(tt.pin); !errors.Is(err, tt.want) || tt.want == nil && err != nil {
			t.Errorf("%q: %v, want %v", tt.pin, err, tt.want)
		}
	}
}

func TestWaits(t *testing.T) {
	now := 5 * time.Hour
	var tries Tries
	for n, want := range []time.Duration{0, 0, 0, 30 * time.Second, time.Minute, 2 * time.Minute, 4 * time.Minute, 8 * time.Minute, 16 * time.Minute, 32 * time.Minute, time.Hour, time.Hour} {
		if got := tries.Wait(now, "a"); got != want {
			t.Errorf("after %d wrong tries the next waits %v, want %v", n, got, want)
		}
		if got := tries.Wait(now+want, "a"); got != 0 {
			t.Errorf("after %d wrong tries and their wait %v is left", n, got)
		}
		// A device that was started anew begins the wait anew, and only its
		// own time counts.
		if got := tries.Wait(0, "b"); got != want {
			t.Errorf("after %d wrong tries and a new start the next waits %v, want %v", n, got, want)
		}
		if got := tries.Wait(want, "b"); got != 0 {
			t.Errorf("after %d wrong tries, a new start and the wait %v is left", n, got)
		}
		tries = tries.More(now, "a")
	}
	// A counter that went back, which none does, waits no longer than once.
	if got := tries.Wait(0, "a"); got != time.Hour {
		t.Errorf("%v", got)
	}
}

func TestVault(t *testing.T) {
	device := must(NewKey())
	v := Vault{Secret: make([]byte, 200)}
	r := must(NewRecovery())
	var ids []Identity
	for range 5 {
		id := must(NewIdentity())
		ids = append(ids, id)
		v.Recipient = id.Recipient()
		v = v.With(ClinicKey{id.Recipient(), must(r.Wrap(id))})
	}
	v = v.With(v.Clinics[0])
	v.PIN = must(LockWithPIN("274916", device, light, ids))
	data := must(v.Bytes())
	if len(data) != VaultSize {
		t.Fatalf("%d bytes", len(data))
	}
	back := must(ParseVault(data))
	if back.Recipient != v.Recipient || len(back.Clinics) != 5 || back.Clinics[4].Recipient != v.Recipient {
		t.Fatalf("%+v", back)
	}
	if got := must(Recover(r, back.Clinics)); len(got) != 5 {
		t.Errorf("%d identities", len(got))
	}
	if _, err := Recover(must(NewRecovery()), back.Clinics); !errors.Is(err, ErrSealed) {
		t.Errorf("another recovery key: %v", err)
	}
	for _, id := range ids {
		if bytes.Contains(data, []byte(id.x.String())) {
			t.Error("an identity lies open")
		}
	}
	v.Secret = make([]byte, VaultSize)
	if _, err := v.Bytes(); !errors.Is(err, ErrVault) {
		t.Errorf("too large: %v", err)
	}
	if _, err := ParseVault([]byte("{")); !errors.Is(err, ErrVault) {
		t.Errorf("not readable: %v", err)
	}
}
